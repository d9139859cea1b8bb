"""A finding: doubtful data, said beside a result instead of stopping it."""

from __future__ import annotations

from dataclasses import asdict, dataclass

# Kinds that say what a ranking does not rest on: made after a repair as somebody said, or after something was tried.
LEFT_OUT, LEFT_OUT_TRIED = "left-out", "left-out-tried"


@dataclass(frozen=True)
class Finding:
    """One thing noticed about the input that a person should know.

    Attributes
    ----------
    kind : short stable word, for programs (``"lost-cells"``)
    where : file, channel or reading, and the time span if there is one
    says : one sentence, what was noticed and what was done about it
    do : one sentence, what would settle it; empty when nothing needs doing
    """

    kind: str
    where: str
    says: str
    do: str = ""

    def as_dict(self) -> dict[str, str]:
        """The finding object of every JSON answer."""
        return asdict(self)
