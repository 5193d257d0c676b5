"""Readings packed into bytes, exactly: differences, their bytes shuffled, then zlib. Pure.

Numbers that are whole multiples of a power of ten, as instruments send them and clocks may be cut
to, are packed as those multiples, but only where that gives back the very same 64 bits; all others
as their bits. So nothing is ever rounded.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from neckring.live.reading import Flaw, Reading

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FLAW_BITS = {
    Flaw.STALE: 1,
    Flaw.FROZEN: 2,
    Flaw.IMPOSSIBLE: 4,
    Flaw.JUMPED: 8,
    Flaw.UNIT: 16,
    Flaw.CLOCK: 32,
}
"""Written into files: a bit is never given another meaning."""
ANY_FLAW = sum(FLAW_BITS.values())
NO_SOURCE_TIME = 64
LEVEL = 6
_HEADER = struct.Struct("<I4b")
_BITS = -1
_PLACES = (0, 1, 2, 3, 6)
"""Decimal places that are tried."""
_LARGEST = 2.0**53


@dataclass(frozen=True)
class Columns:
    """Readings side by side, in the order in which they came.

    Attributes:
        value: In SI, exact (n).
        run_time: Since the run was opened [s] (n).
        received: The desk's monotonic clock [s] (n).
        source_time: The sensor's own clock [s] (n); meaningless where there was none.
        marks: Bits of `FLAW_BITS`, and `NO_SOURCE_TIME` (n).
        channel: Number of wearer and channel (n).
    """

    value: FloatArray
    run_time: FloatArray
    received: FloatArray
    source_time: FloatArray
    marks: IntArray
    channel: IntArray

    def __len__(self) -> int:
        """How many readings."""
        return len(self.value)

    def where(self, chosen: NDArray[np.bool_]) -> Columns:
        """Some of them, in the same order."""
        return Columns(*(each[chosen] for each in self.parts()))

    def parts(self) -> tuple[NDArray[Any], ...]:
        """All columns, in the order of the attributes."""
        return tuple(vars(self).values())

    @property
    def good(self) -> NDArray[np.bool_]:
        """Which may be used."""
        chosen: NDArray[np.bool_] = (self.marks & ANY_FLAW) == 0
        return chosen


def columns_of(readings: Sequence[Reading], numbers: Sequence[int]) -> Columns:
    """Readings, each with the number of its wearer and channel, side by side."""
    return Columns(
        np.array([each.value for each in readings], dtype=np.float64),
        np.array([each.run_time for each in readings], dtype=np.float64),
        np.array([each.received for each in readings], dtype=np.float64),
        np.array(
            [0.0 if each.source_time is None else each.source_time for each in readings],
            dtype=np.float64,
        ),
        np.array([_marks(each) for each in readings], dtype=np.int64),
        np.array(numbers, dtype=np.int64),
    )


def readings_of(columns: Columns, wearer: str, channel: str) -> list[Reading]:
    """Columns of one channel as readings again."""
    flaws = {mark: _flaws(mark) for mark in set(columns.marks.tolist())}
    return [
        Reading(
            wearer,
            channel,
            value,
            None if mark & NO_SOURCE_TIME else source_time,
            received,
            run_time,
            flaws[mark],
        )
        for value, run_time, received, source_time, mark, _ in zip(
            *(each.tolist() for each in columns.parts()), strict=True
        )
    ]


def joined(parts: Iterable[Columns]) -> Columns:
    """Columns one behind the other."""
    each = [part.parts() for part in (NONE, *parts)]
    return Columns(*(np.concatenate(column) for column in zip(*each, strict=True)))


def pack(columns: Columns) -> bytes:
    """Columns as bytes."""
    *floats, marks, channel = columns.parts()
    packed = [_whole(column) for column in floats]
    wholes = [*(whole for _, whole in packed), marks, channel]
    header = _HEADER.pack(len(columns), *(places for places, _ in packed))
    return zlib.compress(header + b"".join(_shuffled(whole) for whole in wholes), LEVEL)


def unpack(data: bytes) -> Columns:
    """The columns of bytes.

    Raises:
        ValueError: When they are not what was packed.
    """
    try:
        plain = zlib.decompress(data)
        count, *places = _HEADER.unpack_from(plain)
        planes = np.frombuffer(plain, np.uint8, offset=_HEADER.size).reshape(6, 8, count)
    except (zlib.error, struct.error, ValueError) as error:
        raise ValueError(f"damaged readings ({error})") from None
    wholes = [_unshuffled(plane) for plane in planes]
    floats: list[NDArray[Any]] = [
        _float(whole, place) for whole, place in zip(wholes, places, strict=False)
    ]
    return Columns(*floats, *wholes[4:])


def _marks(reading: Reading) -> int:
    flaws = sum(FLAW_BITS[flaw] for flaw in reading.flaws)
    return flaws | (NO_SOURCE_TIME if reading.source_time is None else 0)


def _flaws(mark: int) -> frozenset[Flaw]:
    return frozenset(flaw for flaw, bit in FLAW_BITS.items() if mark & bit)


def _whole(values: FloatArray) -> tuple[int, IntArray]:
    """Values as whole numbers, and how many decimal places were taken off; or their bits."""
    bits = values.view(np.int64)
    with np.errstate(all="ignore"):
        for places in _PLACES:
            scaled = np.rint(values * 10.0**places)
            if not np.all(np.abs(scaled) < _LARGEST):
                break
            whole = scaled.astype(np.int64)
            if np.array_equal((whole / 10.0**places).view(np.int64), bits):
                return places, whole
    return _BITS, bits


def _float(whole: IntArray, places: int) -> FloatArray:
    return whole.view(np.float64) if places == _BITS else whole / 10.0**places


def _shuffled(whole: IntArray) -> bytes:
    """Differences, those near zero as small numbers; all first bytes, then all second ones."""
    steps = np.diff(whole, prepend=np.int64(0))
    small = (steps << 1) ^ (steps >> 63)
    return small.view(np.uint8).reshape(-1, 8).T.tobytes()


def _unshuffled(planes: NDArray[np.uint8]) -> IntArray:
    small = np.ascontiguousarray(planes.T).reshape(-1).view(np.uint64)
    steps = (small >> np.uint64(1)).view(np.int64) ^ -(small & np.uint64(1)).view(np.int64)
    whole: IntArray = np.cumsum(steps)
    return whole


NONE = columns_of([], [])
"""No readings."""
