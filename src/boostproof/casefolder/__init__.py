"""Case folders: read and check one (`read_case`), start one (`new_case`)."""

from boostproof.casefolder.case import Case, read_case
from boostproof.casefolder.template import new_case

__all__ = ["Case", "new_case", "read_case"]
