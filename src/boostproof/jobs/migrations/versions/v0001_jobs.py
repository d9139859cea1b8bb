"""The first form: jobs, files with all their versions, answers, tasks, settings, and what was done when."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """From an empty database."""
    op.create_table('content',
    sa.Column('content', sa.String(length=64), nullable=False),
    sa.Column('files', sa.Text(), nullable=False),
    sa.PrimaryKeyConstraint('content', name=op.f('pk_content'))
    )
    op.create_table('job',
    sa.Column('id', sa.Integer(), autoincrement=True, nullable=False),
    sa.Column('name', sa.Text(), nullable=False),
    sa.Column('car', sa.Text(), nullable=False),
    sa.Column('complaint', sa.Text(), nullable=False),
    sa.Column('state', sa.Text(), nullable=False),
    sa.Column('created', sa.String(length=32), nullable=False),
    sa.Column('changed', sa.String(length=32), nullable=False),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_job')),
    sqlite_autoincrement=True
    )
    op.create_table('setting',
    sa.Column('key', sa.Text(), nullable=False),
    sa.Column('value', sa.Text(), nullable=False),
    sa.PrimaryKeyConstraint('key', name=op.f('pk_setting'))
    )
    op.create_table('answer',
    sa.Column('id', sa.Integer(), autoincrement=True, nullable=False),
    sa.Column('job', sa.Integer(), nullable=False),
    sa.Column('kind', sa.Text(), nullable=False),
    sa.Column('choices', sa.Text(), nullable=False),
    sa.Column('content', sa.String(length=64), nullable=False),
    sa.Column('answer', sa.Text(), nullable=False),
    sa.Column('seed', sa.Integer(), nullable=False),
    sa.Column('versions', sa.Text(), nullable=False),
    sa.Column('made', sa.String(length=32), nullable=False),
    sa.ForeignKeyConstraint(['job'], ['job.id'], name=op.f('fk_answer_job')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_answer')),
    sqlite_autoincrement=True
    )
    with op.batch_alter_table('answer', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_answer_job_kind_content'), ['job', 'kind', 'content'], unique=False)

    op.create_table('empty_folder',
    sa.Column('job', sa.Integer(), nullable=False),
    sa.Column('path', sa.Text(), nullable=False),
    sa.ForeignKeyConstraint(['job'], ['job.id'], name=op.f('fk_empty_folder_job')),
    sa.PrimaryKeyConstraint('job', 'path', name=op.f('pk_empty_folder'))
    )
    op.create_table('log',
    sa.Column('id', sa.Integer(), autoincrement=True, nullable=False),
    sa.Column('job', sa.Integer(), nullable=False),
    sa.Column('at', sa.String(length=32), nullable=False),
    sa.Column('says', sa.Text(), nullable=False),
    sa.ForeignKeyConstraint(['job'], ['job.id'], name=op.f('fk_log_job')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_log')),
    sqlite_autoincrement=True
    )
    with op.batch_alter_table('log', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_log_job'), ['job'], unique=False)

    op.create_table('version',
    sa.Column('id', sa.Integer(), autoincrement=True, nullable=False),
    sa.Column('job', sa.Integer(), nullable=False),
    sa.Column('path', sa.Text(), nullable=False),
    sa.Column('sha256', sa.String(length=64), nullable=False),
    sa.Column('size', sa.Integer(), nullable=False),
    sa.Column('changed', sa.String(length=32), nullable=False),
    sa.ForeignKeyConstraint(['job'], ['job.id'], name=op.f('fk_version_job')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_version')),
    sqlite_autoincrement=True
    )
    with op.batch_alter_table('version', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_version_job_path'), ['job', 'path'], unique=False)
        batch_op.create_index(batch_op.f('ix_version_sha256'), ['sha256'], unique=False)

    op.create_table('present',
    sa.Column('job', sa.Integer(), nullable=False),
    sa.Column('path', sa.Text(), nullable=False),
    sa.Column('version', sa.Integer(), nullable=False),
    sa.ForeignKeyConstraint(['job'], ['job.id'], name=op.f('fk_present_job')),
    sa.ForeignKeyConstraint(['version'], ['version.id'], name=op.f('fk_present_version')),
    sa.PrimaryKeyConstraint('job', 'path', name=op.f('pk_present'))
    )
    op.create_table('task',
    sa.Column('id', sa.Integer(), autoincrement=True, nullable=False),
    sa.Column('job', sa.Integer(), nullable=False),
    sa.Column('kind', sa.Text(), nullable=False),
    sa.Column('choices', sa.Text(), nullable=False),
    sa.Column('content', sa.String(length=64), nullable=False),
    sa.Column('state', sa.Text(), nullable=False),
    sa.Column('says', sa.Text(), nullable=False),
    sa.Column('share', sa.Float(), nullable=False),
    sa.Column('error', sa.Text(), nullable=True),
    sa.Column('answer', sa.Integer(), nullable=True),
    sa.Column('tries', sa.Integer(), nullable=False),
    sa.Column('created', sa.String(length=32), nullable=False),
    sa.Column('ended', sa.String(length=32), nullable=False),
    sa.ForeignKeyConstraint(['answer'], ['answer.id'], name=op.f('fk_task_answer')),
    sa.ForeignKeyConstraint(['job'], ['job.id'], name=op.f('fk_task_job')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_task')),
    sqlite_autoincrement=True
    )
    with op.batch_alter_table('task', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_task_job'), ['job'], unique=False)
        batch_op.create_index(batch_op.f('ix_task_state'), ['state'], unique=False)

