"""Evenly spread random numbers: the same for the same seed, and the same nuisances under every hypothesis.

Latin hypercubes of `BLOCK` points, one after the other (McKay, Beckman & Conover 1979, from memory): every
dimension by itself is evenly filled, and more points can be added. In plain NumPy, since loading SciPy's
statistics takes longer than a first look at a case.
"""

from __future__ import annotations

from functools import lru_cache
from zlib import crc32

import numpy as np

from boostproof.bench.response import Array

BLOCK = 64  # the smallest number of points that is asked for


def random_numbers(seed: int, key: str, start: int, count: int, dimensions: int) -> tuple[Array, Array]:
    """Normal (dimensions, count) and uniform (count,) numbers from ``start`` on.

    The first dimensions - 2 rows belong to the nuisances and are the same for every key; the last two rows
    and the uniforms are the mechanism's own.
    """
    own = spread(seed, key, start, count, 3)
    return np.concatenate([_nuisances(seed, start, count, dimensions - 2), _normal(own[:2])]), own[2]


@lru_cache(maxsize=8)
def _nuisances(seed: int, start: int, count: int, width: int) -> Array:
    return _normal(spread(seed, "nuisance", start, count, width))


def _normal(uniform: Array) -> Array:
    from scipy.special import ndtri

    return np.asarray(ndtri(np.clip(uniform, 1e-12, 1.0 - 1e-12)))


def spread(seed: int, name: str, start: int, count: int, width: int) -> Array:
    """Points number ``start`` to ``start + count``, (width, count) in [0, 1).

    >>> points = spread(1, "some", 0, 64, 2)
    >>> sorted((points[1] * 64).astype(int).tolist()) == list(range(64))
    True
    """
    first, last = start // BLOCK, -(-(start + count) // BLOCK)
    blocks = [_block([seed, crc32(name.encode()), number], width) for number in range(first, last)]
    return np.concatenate(blocks, axis=1)[:, start - first * BLOCK :][:, :count]


def _block(seed: list[int], width: int) -> Array:
    rng = np.random.default_rng(seed)
    places = rng.permuted(np.tile(np.arange(BLOCK), (width, 1)), axis=1)
    return np.asarray((places + rng.random((width, BLOCK))) / BLOCK)
