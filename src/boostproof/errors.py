"""What went wrong, said once, in one shape.

    BoostproofError
    ├── InputError (ValueError)         something a person wrote or recorded cannot be used
    │   └── UnsupportedCarError         a car that is outside the scope, refused by name
    ├── InputRangeError (ValueError)    a caller passed a number outside a function's range
    └── NotDoneError (RuntimeError)     the work could not be finished (cancelled, no solution)

Every error says what kind it is, where, what is wrong and what to do; doors (command line, web)
print exactly these four.
"""

from __future__ import annotations


class BoostproofError(Exception):
    """Base of all our errors: ``kind``, ``where``, ``says``, ``do``."""

    def __init__(self, says: str, *, kind: str = "error", where: str = "", do: str = "") -> None:
        super().__init__(says)
        self.kind = kind
        self.where = where
        self.says = says
        self.do = do

    def as_dict(self) -> dict[str, str]:
        """The error object of every JSON answer."""
        return {"kind": self.kind, "where": self.where, "says": self.says, "do": self.do}

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        return f"{place}{self.says}" + (f" {self.do}" if self.do else "")


class InputError(BoostproofError, ValueError):
    """Something a person wrote or recorded cannot be used as it stands."""


class UnsupportedCarError(InputError):
    """A car outside the scope (diesel, variable geometry, compound turbos, supercharger)."""


class InputRangeError(BoostproofError, ValueError):
    """A caller passed a number outside the range that a function accepts."""


class NotDoneError(BoostproofError, RuntimeError):
    """The work could not be finished: cancelled, or no solution exists."""
