"""Drill times kept, their P50 and P90 with what so few can say, and what they offer the help clock.

Quantiles are those of type 8, which lie in the middle of what the median may be whatever the
distribution. A band around each is made of the order statistics alone, so that it holds for any
distribution; with few drills it has no upper end, and that is said.

Source: Hyndman and Fan 1996, The American Statistician 50(4):361-365, definition 8, from memory,
checked against a public library; order-statistics intervals: Conover 1999, Practical Nonparametric
Statistics, 3rd ed., section 3.2, from memory, checked against a public library.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import comb
from pathlib import Path

from neckring.station.drills import DRILL_KEYS, FILE, Drill, read_drills
from neckring.station.help import Help
from neckring.units import Quantity, QuantityError, format_quantity, parse_quantity
from neckring.whole_file import write_whole

FEWEST = 3
"""With fewer drills nothing is offered; practice."""

SURE = 0.9
"""How sure a band is; practice."""

# A uniform range has its P50 in the middle and its P90 at nine tenths.
RANGE_TO_P90 = 0.4


@dataclass(frozen=True)
class Estimated:
    """One quantile of times.

    Attributes:
        value: Type 8 [s]; the longest drill when there are too few to reach the quantile.
        low: Of the band [s]; None when there are too few for a lower end.
        high: Of the band [s]; None when there are too few for an upper end.
    """

    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Offered:
    """What drills offer for one key of the help clock; nothing is applied by it.

    Attributes:
        key: Of the suit's `help`.
        number: Of drills that count.
        left_out: Of drills that do not: not at real speed.
        p50: None with too few drills.
        p90: None with too few drills.
        now: The time in force.
        assumed: Whether that is only assumed.
        proposed: As it would be written in the suit's file; empty with too few drills.
        words: What stands for it and against it.
    """

    key: str
    number: int
    left_out: int
    p50: Estimated | None
    p90: Estimated | None
    now: Quantity | None
    assumed: bool
    proposed: str
    words: str


def quantile(times: Sequence[float], share: float) -> float:
    """The quantile of type 8 [s].

    Args:
        times: At least one [s].
        share: 0..1.
    """
    ordered, number = sorted(times), len(times)
    place = (number + 1.0 / 3.0) * share + 1.0 / 3.0
    below = min(max(int(place), 1), number)
    above = min(below + 1, number)
    part = min(max(place - below, 0.0), 1.0)
    return ordered[below - 1] + part * (ordered[above - 1] - ordered[below - 1])


def _at_most(number: int, count: int, share: float) -> float:
    """Chance that at most so many of a number lie below the quantile."""
    return sum(comb(number, k) * share**k * (1.0 - share) ** (number - k) for k in range(count + 1))


def quantile_band(
    times: Sequence[float], share: float, sure: float = SURE
) -> tuple[float | None, float | None]:
    """Ends of a band that holds the true quantile so surely, whatever the distribution.

    Args:
        times: [s]
        share: Of the quantile.
        sure: Each end errs with half of the rest at most.

    Returns:
        Low and high [s]; None for an end that so few times cannot give.
    """
    ordered, number, miss = sorted(times), len(times), 0.5 * (1.0 - sure)
    # The r-th time lies above the quantile when fewer than r lie below it.
    lows = [r for r in range(1, number + 1) if _at_most(number, r - 1, share) <= miss]
    highs = [r for r in range(1, number + 1) if 1.0 - _at_most(number, r - 1, share) <= miss]
    low = ordered[max(lows) - 1] if lows else None
    high = ordered[min(highs) - 1] if highs else None
    return low, high


def estimated(times: Sequence[float], share: float) -> Estimated:
    """A quantile with its band."""
    return Estimated(quantile(times, share), *quantile_band(times, share))


def drills_for_an_upper_end(share: float, sure: float = SURE) -> int:
    """How many drills it takes until the longest is an upper end of the quantile's band."""
    number = 1
    while share**number > 0.5 * (1.0 - sure):
        number += 1
    return number


def offered(drills: Iterable[Drill], suit: str, help_times: Help) -> tuple[Offered, ...]:
    """What drills with a suit offer for each time of its help clock.

    Args:
        drills: Of the station.
        suit: Its code.
        help_times: In force.

    Returns:
        One for each key with a drill, in the order of the keys.
    """
    of_suit = [drill for drill in drills if drill.suit == suit]
    by_key: Mapping[str, list[Drill]] = {
        key: [drill for drill in of_suit if drill.key == key] for key in DRILL_KEYS
    }
    return tuple(_offer(key, mine, help_times) for key, mine in by_key.items() if mine)


def _offer(key: str, mine: list[Drill], help_times: Help) -> Offered:
    times = [drill.took.nominal for drill in mine if drill.speed == 1.0]
    now: Quantity | None = getattr(help_times, key)
    assumed, left_out = key in help_times.assumed, len(mine) - len(times)
    if len(times) < FEWEST:
        words = f"{len(times)} of at least {FEWEST} drills: nothing is offered yet"
        return Offered(key, len(times), left_out, None, None, now, assumed, "", words)
    p50, p90 = estimated(times, 0.5), estimated(times, 0.9)
    proposed = _proposed(p50.value, p90.high if p90.high is not None else p90.value)
    words = _words(key, len(times), p90, proposed)
    accepted = _is_accepted(key, proposed)
    return Offered(
        key, len(times), left_out, p50, p90, now, assumed, proposed if accepted else "", words
    )


def _proposed(p50: float, p90: float) -> str:
    """A range with this P50 and P90, to whole seconds, outward."""
    half = max(p90 - p50, 0.0) / RANGE_TO_P90 / 2.0
    low = max(1.0, float(int(p50 - half)))
    high = max(low, float(-int(-(p50 + half) // 1)))
    return f"{low:.0f}..{high:.0f} s" if high > low else f"{high:.0f} s"


def _is_accepted(key: str, proposed: str) -> bool:
    try:
        rule = next(r for r in Help.model_fields[key].metadata if hasattr(r, "bounds"))
        low, high = rule.bounds
        quantity = parse_quantity(proposed, "time")
    except (QuantityError, StopIteration):
        return False
    return bool(low <= quantity.low and quantity.high <= high)


def _words(key: str, number: int, p90: Estimated, proposed: str) -> str:
    if not _is_accepted(key, proposed):
        return f"{proposed} is not accepted for {key}: write it by hand"
    if p90.high is not None:
        upper = format_quantity(p90.high, "time")
        return f"{number} drills; P90 is below {upper} with 19 in 20"
    needed = drills_for_an_upper_end(0.9)
    return f"{number} drills; {needed} are needed before P90 has an upper bound: it may be longer"


class CannotKeepError(Exception):
    """Drills cannot be written; says why. The file is as it was."""


def keep_drills(folder: Path, new: Sequence[Drill]) -> None:
    """Add drills to the station's file, whole or not at all; what stands in it stays as written.

    Args:
        folder: The station's folder.
        new: At least one.

    Raises:
        StationFaults: What stands in the file already is wrong; nothing was written.
        CannotKeepError: The file cannot be written.
    """
    read_drills(folder)
    path = folder / FILE
    try:
        before = path.read_text(encoding="utf-8-sig") if path.exists() else BEGINS
        text = before if before.endswith("\n") else f"{before}\n"
        write_whole(path, text + "".join(_line(drill) for drill in new))
        read_back = len(read_drills(folder))
    except OSError as problem:
        raise CannotKeepError(f"{path}: {(problem.strerror or 'error').lower()}") from None
    except Exception:
        # A file ordered otherwise than this writes it: put back what stood there.
        write_whole(path, before) if before is not BEGINS else path.unlink()
        raise CannotKeepError(
            f"{path}: its drills do not stand one a line at its end; add these by hand: "
            + " ".join(_line(drill).strip() for drill in new)
        ) from None
    assert read_back >= len(new)


BEGINS = "# Times taken in drills; neckring adds to the end and changes nothing above.\ndrills:\n"


def _line(drill: Drill) -> str:
    speed = f", speed: {drill.speed:g}" if drill.speed != 1.0 else ""
    source = drill.source.replace("\\", "\\\\").replace('"', '\\"')
    return (
        f"  - {{key: {drill.key}, suit: {drill.suit}, took: {drill.took.nominal:.1f} s, "
        f'on: {drill.on.isoformat()}, source: "{source}"{speed}}}\n'
    )
