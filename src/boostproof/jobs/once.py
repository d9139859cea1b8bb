"""What is sent twice is carried out once."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from boostproof.errors import InputError
from boostproof.jobs import rows

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from boostproof.jobs.store import Store


def once(store: Store, key: str, change: Callable[[], str]) -> str:
    """Carry out what was sent, and the same sent again not again: with its change its key is kept, or neither.

    Parameters
    ----------
    store : that is changed
    key : of what was sent, at most 64 letters; "" for none: then it is carried out each time
    change : writes, in this thread, and gives the address that it leads to

    Returns
    -------
    The address, of the first time where it was carried out before.

    Raises
    ------
    InputError
        As `change` does; the key is not kept then, and what was written before stays.
    """
    if not key:
        return change()
    with store.database.reading() as connection:
        before = rows.done_before(connection, key)
    if before is not None:
        return before

    def not_done(connection: Connection) -> None:
        address = rows.done_before(connection, key)
        if address is not None:
            raise _DoneBefore(address)

    refused: InputError | None = None
    try:
        with store.memory.passed_by(), store.database.together(not_done):
            try:
                address = change()
            except InputError as error:
                refused = error
            else:
                with store.database.writing() as connection:
                    rows.remember_sent(connection, key, address)
    except _DoneBefore as done:  # between the look above and the first write
        return done.address
    if refused is not None:
        raise refused
    return address


class _DoneBefore(Exception):
    """Somebody else has carried out what was sent."""

    def __init__(self, address: str) -> None:
        super().__init__(address)
        self.address = address
