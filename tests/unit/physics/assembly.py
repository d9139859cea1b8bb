"""What the machine code of a lane loop consists of: packed, scalar and double-precision arithmetic.

Reads the x86 and AArch64 assembly text that the compiler prints. The lane loop is taken as the smallest
loop that holds most of the packed arithmetic.
"""

from __future__ import annotations

import platform
import re
from dataclasses import dataclass

READABLE = platform.machine().lower() in ("x86_64", "amd64", "aarch64", "arm64")

# Arithmetic only: moves, broadcasts and bit masks of a "double" kind are harmless.
_X86 = re.compile(
    r"^\tv?(?:add|sub|mul|div|sqrt|rsqrt|rcp|max|min|fn?m(?:add|sub)|cvt)[a-z0-9]*?(?P<kind>ss|sd|ps|pd)\s(?P<args>.*)",
)
_ARM = re.compile(r"^\tf(?!mov|csel|cm|neg)[a-z]+(?P<suffix>\.\d[sd])?\s+(?P<args>.*)")
_LABEL = re.compile(r"^(\.?L[\w.$]*):")
_JUMP = re.compile(r"^\t(?:j[a-z]+|b(?:\.[a-z]+)?|cbn?z|tbn?z)\s.*?(\.?L[\w.$]*)$")


@dataclass(frozen=True)
class Arithmetic:
    """Counts of instructions: on several float32, on one float32, on float64; and the widest register."""

    packed: int = 0
    scalar: int = 0
    double: int = 0
    bits: int = 0

    def __add__(self, other: Arithmetic) -> Arithmetic:
        return Arithmetic(
            self.packed + other.packed,
            self.scalar + other.scalar,
            self.double + other.double,
            max(self.bits, other.bits),
        )


def _of_line(line: str) -> Arithmetic:
    if found := _X86.match(line):
        kind, args = found["kind"], found["args"]
        bits = 512 if "zmm" in args else 256 if "ymm" in args else 128
        return {
            "ps": Arithmetic(packed=1, bits=bits),
            "ss": Arithmetic(scalar=1),
            "sd": Arithmetic(double=1),
            "pd": Arithmetic(double=1),
        }[kind]
    if found := _ARM.match(line):
        args = found["args"] + (f" v0{found['suffix']}" if found["suffix"] else "")
        if re.search(r"\bv\d+\.(4|2)s", args):
            return Arithmetic(packed=1, bits=128)
        if re.search(r"\bz\d+\.s", args):
            return Arithmetic(packed=1, bits=256)
        if re.search(r"\bd\d+\b|\.2d|z\d+\.d", args):
            return Arithmetic(double=1)
        return Arithmetic(scalar=1)
    return Arithmetic()


def total(assembly: str) -> Arithmetic:
    """Arithmetic of the whole text."""
    return sum(map(_of_line, assembly.splitlines()), Arithmetic())


def lane_loop(assembly: str) -> Arithmetic:
    """Arithmetic inside the lane loop.

    Raises ValueError if no loop holds most of the packed arithmetic.
    """
    lines = assembly.splitlines()
    per_line = [_of_line(line) for line in lines]
    packed = sum(a.packed for a in per_line)
    labels: dict[str, int] = {}
    loops: list[tuple[int, int]] = []
    for number, line in enumerate(lines):
        if found := _LABEL.match(line):
            labels[found[1]] = number
        elif (found := _JUMP.match(line)) and found[1] in labels:  # backwards
            loops.append((labels[found[1]], number))
    for start, stop in sorted(loops, key=lambda loop: loop[1] - loop[0]):
        inside = sum(per_line[start : stop + 1], Arithmetic())
        if packed and inside.packed > 0.6 * packed:
            return inside
    raise ValueError(f"no lane loop found; arithmetic of the whole text: {total(assembly)}")
