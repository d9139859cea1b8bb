"""Write case files in the plain TOML that people write: one table per section, short rows inline."""

from __future__ import annotations

from collections.abc import Mapping, Sequence


def value(item: object) -> str:
    """One TOML value. Raises TypeError for what a case file cannot hold."""
    if isinstance(item, bool):
        return "true" if item else "false"
    if isinstance(item, int | float):
        return repr(item)
    if isinstance(item, str):
        return '"' + item.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(item, Mapping):
        return "{ " + ", ".join(f"{k} = {value(v)}" for k, v in item.items()) + " }"
    if isinstance(item, Sequence):
        if item and all(isinstance(i, Mapping) for i in item):
            return "[\n" + "".join(f"  {value(i)},\n" for i in item) + "]"
        return "[" + ", ".join(value(i) for i in item) + "]"
    raise TypeError(f"a case file cannot hold {type(item).__name__}")


def section(name: str, keys: Mapping[str, object]) -> str:
    """A ``[name]`` table; nothing at all when it would be empty."""
    if not keys:
        return ""
    return f"[{name}]\n" + "".join(f"{k} = {value(v)}\n" for k, v in keys.items()) + "\n"


def array_entry(name: str, keys: Mapping[str, object]) -> str:
    """One ``[[name]]`` entry; keys that hold a table become ``[name.key]`` after the plain ones."""
    plain = {k: v for k, v in keys.items() if not isinstance(v, Mapping)}
    tables = {k: v for k, v in keys.items() if isinstance(v, Mapping)}
    text = f"[[{name}]]\n" + "".join(f"{k} = {value(v)}\n" for k, v in plain.items()) + "\n"
    return text + "".join(section(f"{name}.{k}", v) for k, v in tables.items())
