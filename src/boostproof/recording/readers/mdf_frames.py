"""Raw CAN frames in MDF files: the channels of the ASAM standard "MDF Bus Logging", as `Frames`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.findings import Finding
from boostproof.recording.readers.dbc import EXTENDED
from boostproof.recording.readers.frames import Frames, merged

_FRAME = "CAN_DataFrame"
_OF_BUS = re.compile(
    r"(?:CAN_(?:Data|Remote|Error|Overload)Frame"
    r"|LIN_(?:Frame|WakeUp|Spike|LongDom|(?:Checksum|Transmission|Sync|Receive)Error)"
    r"|FLX_(?:Frame|FrameHeader|NullFrame|ErrorFrame|Pdu|Symbol)"
    r"|MOST_(?:Message|Packet|EthernetPacket|SystemState|AllocTable)"
    r"|ETH_(?:Frame|FrameDropped|Checksum|ChecksumError|ReceiveError))(?:\.|$)"
)
# Data length code to bytes (ISO 11898-1).
_BYTES = np.array([0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64])


def is_of_bus(name: str) -> bool:
    """Whether a channel is part of a raw frame or of another event of a bus, such as "CAN_DataFrame.ID"."""
    return _OF_BUS.match(name) is not None


def holds_frames(group: Any) -> bool:
    """Whether a channel group holds raw CAN data frames."""
    names = {channel.name for channel in group.channels}
    return {f"{_FRAME}.ID", f"{_FRAME}.DataBytes"} <= names


def read_frames(mdf: Any, groups: Sequence[int], where: str) -> tuple[Frames, list[Finding]]:
    """All frames of a file in the order of their times.

    Parameters
    ----------
    mdf : the open file
    groups : numbers of the groups that hold frames
    where : file name
    """
    parts, errors = [], 0
    for index in groups:
        parts.append(_of_group(mdf, index))
    for group in mdf.groups:
        if any(channel.name == "CAN_ErrorFrame" for channel in group.channels):
            errors += int(group.channel_group.cycles_nr)
    findings = []
    if errors:
        findings.append(
            Finding(
                "bus-errors",
                where,
                f"The bus reported errors while the log ran ({errors}).",
                "Many point to a loose plug, a wrong bit rate or a missing terminator at the logger.",
            )
        )
    return merged(parts), findings


def _of_group(mdf: Any, index: int) -> Frames:
    group = mdf.groups[index]
    places = {channel.name: place for place, channel in enumerate(group.channels)}

    def numbers(name: str) -> NDArray[np.int64] | None:
        place = places.get(f"{_FRAME}.{name}")
        if place is None:
            return None
        return np.asarray(mdf.get(group=index, index=place, raw=True).samples, dtype=np.int64)

    ids = numbers("ID")
    assert ids is not None
    extended = numbers("IDE")
    # Without a channel for it, the highest bit of the id tells, or an id that does not fit into 11 bits.
    long = extended > 0 if extended is not None else (ids & EXTENDED != 0) | ((ids & 0x1FFF_FFFF) > 0x7FF)
    data = np.asarray(mdf.get(group=index, index=places[f"{_FRAME}.DataBytes"], raw=True).samples)
    data = np.ascontiguousarray(data.reshape(len(ids), -1), dtype=np.uint8)
    width = data.shape[1]
    lengths, codes = numbers("DataLength"), numbers("DLC")
    if lengths is None:
        lengths = np.full(len(ids), width) if codes is None else _BYTES[np.clip(codes, 0, 15)]
    channel = numbers("BusChannel")
    channel = np.zeros(len(ids), dtype=np.int64) if channel is None else channel
    names, bus = np.unique(channel, return_inverse=True)
    time = np.asarray(mdf.get_master(index), dtype=np.float64)
    return Frames(
        time,
        np.asarray(bus, dtype=np.int64),
        (ids & 0x1FFF_FFFF) | np.where(long, EXTENDED, 0),
        np.arange(len(ids), dtype=np.int64) * width,
        np.minimum(lengths, width),
        data.ravel(),
        tuple(f"CAN {name}" for name in names.tolist()),
    )
