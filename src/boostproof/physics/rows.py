"""The rows of a parameter array as names for equation text: ``par[rows.PORT_DIAMETER]``.

Each parameter of `layout.PARAMETERS` in capitals, as a plain int, which is what kernels may index with.
"""

from __future__ import annotations

from boostproof.physics import layout

globals().update({name.upper(): number for name, number in layout.INDEX.items()})


def __getattr__(name: str) -> int:
    """Only for names that do not exist; raises with the nearest ones."""
    raise AttributeError(f"no parameter is called {name!r}; see boostproof.physics.layout.NAMES")
