"""Every word on a screen, by key: ``words/en/<page>.toml`` holds them, templates and pages hold keys.

A key is ``page.name`` or ``page.table.name``. A table with ``one`` and ``many`` is chosen by ``n``.
"""

from __future__ import annotations

import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any

_FOLDER = Path(__file__).parent / "words"
LANGUAGE = "en"


@lru_cache(maxsize=8)
def catalogue(language: str = LANGUAGE) -> dict[str, Any]:
    """All words of a language, by page and name."""
    return {
        path.stem: tomllib.loads(path.read_text(encoding="utf-8"))
        for path in sorted((_FOLDER / language).glob("*.toml"))
    }


def t(key: str, **values: Any) -> str:
    """The words of a key with values filled in.

    Parameters
    ----------
    key : ``"page.name"``
    values : what stands in braces in the words; ``n`` also chooses between ``one`` and ``many``

    Raises
    ------
    KeyError
        If there is no such key, or a value is missing: a fault of ours, found by the tests.
    """
    found: Any = catalogue()
    for part in key.split("."):
        try:
            found = found[part]
        except (KeyError, TypeError):
            raise KeyError(f"no words for {key}") from None
    if isinstance(found, dict) and "one" in found and "many" in found and "n" in values:
        found = found["one" if values["n"] == 1 else "many"]
    if not isinstance(found, str):
        raise KeyError(f"{key} is a table, not words")
    return found.format(**values) if values else found


def keys(language: str = LANGUAGE) -> set[str]:
    """Every key that there is; ``one`` and ``many`` count as the key above them."""
    found: set[str] = set()

    def walk(table: dict[str, Any], path: tuple[str, ...]) -> None:
        for name, value in table.items():
            if isinstance(value, dict) and set(value) != {"one", "many"}:
                walk(value, (*path, name))
            else:
                found.add(".".join((*path, name)))

    walk(catalogue(language), ())
    return found
