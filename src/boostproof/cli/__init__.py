"""The command line: a thin door over :mod:`boostproof.workflows`.

:func:`main` runs one command and returns its exit code: 0 done, 1 not done (the reason is said in one
sentence on standard error, or with ``--json`` as one error object on standard output), 2 only for a
wrong command line. Nothing heavy is imported before a command that needs it runs.
"""

from boostproof.cli.door import main

__all__ = ["main"]
