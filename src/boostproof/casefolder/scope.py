"""Cars outside the scope, refused by name before anything else is said about the file."""

from __future__ import annotations

import re
from typing import Any

from boostproof.car.spec import ELECTRIC_REFUSED, CarSpec
from boostproof.casefolder.tables import plain
from boostproof.casefolder.toml_file import TomlFile
from boostproof.errors import UnsupportedCarError
from boostproof.keys import keys_of

_DO = "No verdict can be given for this car; take it to somebody who knows this kind."


def refuse_out_of_scope(file: TomlFile) -> None:
    """Refuse diesel, variable geometry, staged turbos, superchargers and electric turbos by name.

    Parameters
    ----------
    file : car.toml, of which nothing else need be right

    Raises
    ------
    UnsupportedCarError
        One sentence, with the line that says so.
    """
    for section, (_, table) in keys_of(CarSpec).items():
        written = file.data.get(section)
        if table.of is None or not isinstance(written, dict):
            continue
        for name, (_, key) in keys_of(table.of).items():
            for word, sentence in key.refused:
                if _says(written.get(name), word):
                    raise _refusal(sentence, file, (section, name))
    turbo = file.data.get("turbo")
    for name, value in turbo.items() if isinstance(turbo, dict) else ():
        if name.endswith("_map"):
            continue
        named = re.match(r"electric", plain(name)) and value is not False
        if named or _says(value, "electric"):
            raise _refusal(ELECTRIC_REFUSED, file, ("turbo", name))


def _says(value: Any, word: str) -> bool:
    if isinstance(value, bool):
        return value and word == "true"
    return isinstance(value, str) and re.search(rf"\b{re.escape(word)}", plain(value)) is not None


def _refusal(sentence: str, file: TomlFile, path: tuple[str, str]) -> UnsupportedCarError:
    return UnsupportedCarError(sentence, kind="unsupported-car", where=file.where(path), do=_DO)
