"""From what the runs told to corrected numbers with their bands, and whether they say more.

A number is a function of scores: the garment's conductance, the air that the fans move, what the
battery holds, how much work a wearer makes of what is planned. Its band is that of draws from the
joint distribution after all runs; the same of the distribution before them is what was known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.calibration.findings import Correction, Place, Proposal
from neckring.calibration.knowledge import Gaussian, Knowledge
from neckring.calibration.posterior import Told, prior_of
from neckring.calibration.replay import Course, work_ratio
from neckring.calibration.written import normal_text
from neckring.live.estimate import spread_band
from neckring.live.estimated import Band
from neckring.outing.spells import air_path
from neckring.station.suit import Suit
from neckring.suit.ventilation import AirPath, fan_flow
from neckring.units import Quantity

FloatArray = NDArray[np.float64]

DRAWS = 1000
NARROWER = 0.8
"""Runs say more when the band is at most this share of what it was; assumed."""
MOVED = 0.5
"""Or when its middle has moved by more than this share of half the band; assumed."""
NORMAL_90 = 1.6449
"""Standard deviations from the middle to the ends of a normal 90 % band."""
LEAST_SPREAD = 0.03
"""No proposal claims to know a number better than to this share: the model errs too; assumed."""

Value = Callable[[Course, FloatArray, FloatArray], FloatArray]
"""A number of drawn scores, shape (draws, columns), and work at knots, to shape (draws,)."""


def conductance(course: Course, scores: FloatArray, work: FloatArray) -> FloatArray:
    """Conductance of the whole garment [W/K]."""
    scenario = course.doubts.drawn(scores)
    return scenario.of(scenario.suit.garment.conductance)


def moved_air(course: Course, scores: FloatArray, work: FloatArray) -> FloatArray:
    """Air that the suit's fans move through its duct [m3/s]."""
    scenario = course.doubts.drawn(scores)
    flow = np.asarray(fan_flow(air_path(scenario)).flow)
    return np.asarray(flow * course.doubts.own(scores)["air_flow_factor"])


def battery_capacity(course: Course, scores: FloatArray, work: FloatArray) -> FloatArray:
    """Capacity of the battery, with its age factor as written [C]."""
    scenario = course.doubts.drawn(scores)
    battery = scenario.suit.battery
    aged = scenario.of(battery.age_factor) / battery.age_factor.nominal
    own = course.doubts.own(scores)["battery_factor"]
    return np.asarray(scenario.of(battery.capacity) * aged * own)


def standing_work(course: Course, scores: FloatArray, work: FloatArray) -> FloatArray:
    """Work of a wearer over the work planned, without what wanders from day to day [1]."""
    return work_ratio(course, scores, np.zeros_like(work))


def draws(course: Course, known: Gaussian, seed: int) -> tuple[FloatArray, FloatArray]:
    """Scores and work at the knots, drawn; shape (draws, columns) and (draws, knots)."""
    generator = np.random.default_rng((seed, 6))
    roots = np.linalg.cholesky(known.covariance + 1e-12 * np.eye(len(known.mean)))
    found = known.mean + generator.standard_normal((DRAWS, len(known.mean))) @ roots.T
    columns = course.doubts.columns
    return found[:, :columns], found[:, columns:]


def band(course: Course, known: Gaussian, value: Value, seed: int) -> Band:
    """The 90 % band of a number."""
    return spread_band(value(course, *draws(course, known, seed)))


def says_more(before: Band, now: Band) -> bool:
    """Whether the runs say more than was known."""
    wide, narrow = before.high - before.low, now.high - now.low
    moved = abs(now.middle - before.middle)
    return narrow <= NARROWER * wide or moved > MOVED * 0.5 * wide


@dataclass(frozen=True)
class Asked:
    """One number of a suit that is re-estimated.

    Attributes:
        words: What it is.
        dimension: In which it is told.
        value: From scores.
        usual: The number as the suit's file has it [SI].
        written: Paths in that file, and the quantities there; all grow with the number.
        note: What to know of it.
    """

    words: str
    dimension: str
    value: Value
    usual: Callable[[Suit], float]
    written: Callable[[Suit], Mapping[tuple[str, ...], Quantity]]
    note: str = ""


def usual_air(suit: Suit) -> float:
    """Air that the suit's fans move through its duct, as written [m3/s]."""
    air = suit.air
    path = AirPath(
        float(air.fans),
        air.fan.shut_off_pressure.nominal,
        air.fan.free_flow.nominal,
        air.fan.power.nominal,
        air.duct.pressure.nominal,
        air.duct.flow.nominal,
    )
    return float(np.asarray(fan_flow(path).flow))


OF_SUITS: tuple[Asked, ...] = (
    Asked(
        "garment conductance",
        "conductance",
        conductance,
        lambda suit: suit.garment.conductance.nominal,
        lambda suit: {("garment", "conductance"): suit.garment.conductance},
    ),
    Asked(
        "air flow of the fans",
        "volume_flow",
        moved_air,
        usual_air,
        lambda suit: {
            ("air", "fan", "free_flow"): suit.air.fan.free_flow,
            ("air", "duct", "flow"): suit.air.duct.flow,
        },
        "fans and duct are not told apart: both flows are stretched alike, pressures stay",
    ),
    Asked(
        "battery capacity",
        "charge",
        battery_capacity,
        lambda suit: suit.battery.capacity.nominal,
        lambda suit: {("battery", "capacity"): suit.battery.capacity},
        "with the age factor as written",
    ),
)


def corrections(
    told: Sequence[Told], before: Knowledge, known: Knowledge, seed: int = 1
) -> tuple[Correction, ...]:
    """Every number of the suits and wearers of some runs.

    Args:
        told: What each run told, in order.
        before: What was known before them.
        known: What is known after them all.
        seed: Of the draws.
    """
    found = []
    for code in dict.fromkeys(one.course.logged.suit for one in told):
        mine = [one for one in told if one.course.logged.suit == code]
        found += [_of_suit(asked, mine, before, known, seed) for asked in OF_SUITS]
    for code in dict.fromkeys(one.course.logged.wearer for one in told):
        mine = [one for one in told if one.course.logged.wearer == code]
        found.append(_of_wearer(code, mine, before, known, seed))
    return tuple(found)


def _of_suit(
    asked: Asked, mine: Sequence[Told], before: Knowledge, known: Knowledge, seed: int
) -> Correction:
    course = mine[-1].course
    suit = course.scenario.suit
    first = band(course, prior_of(course, before), asked.value, seed)
    now = band(course, prior_of(course, known), asked.value, seed)
    more = says_more(first, now)
    written = asked.written(suit)
    notes = [asked.note, "" if more else NOTHING_NEW]
    return Correction(
        asked.words,
        f"suit {suit.code}",
        asked.dimension,
        " and ".join(quantity.text for quantity in written.values()),
        first,
        now,
        len(mine),
        _readings(mine),
        more,
        _proposals(asked, suit, now) if more else (),
        "; ".join(note for note in notes if note),
    )


NOTHING_NEW = "the runs say no more than was known: nothing is proposed"


def _proposals(asked: Asked, suit: Suit, now: Band) -> tuple[Proposal, ...]:
    """What stands in the file, stretched so that the number comes out.

    For the air: a fan's and a duct's pressure both follow from the share of their own flow, so
    stretching both flows stretches the flow at which they meet, and no pressure.
    """
    stretch = now.middle / asked.usual(suit)
    spread = max((now.high - now.low) / (2.0 * NORMAL_90 * now.middle), LEAST_SPREAD)
    found = []
    for path, quantity in asked.written(suit).items():
        value = quantity.nominal * stretch
        text = normal_text(value, spread * value, quantity)
        found.append(Proposal(Place("suit", suit.code, path), text))
    return tuple(found)


def _of_wearer(
    code: str, mine: Sequence[Told], before: Knowledge, known: Knowledge, seed: int
) -> Correction:
    """Over all runs of a wearer; each counts by how long it lasted."""
    first = _over_runs(mine, before, seed)
    now = _over_runs(mine, known, seed)
    more = says_more(first, now)
    written = mine[-1].course.scenario.wearer.work_factor
    place = Place("wearer", code, ("work_factor",))
    proposals = (Proposal(place, work_factor_text(now, written)),) if more else ()
    note = "" if more else NOTHING_NEW
    return Correction(
        "work over the work planned",
        f"wearer {code}",
        "number",
        written.text if written else "",
        first,
        now,
        len(mine),
        _readings(mine),
        more,
        proposals,
        note,
    )


def work_factor_text(now: Band, written: Quantity | None) -> str:
    """The work factor as it would be written: what is planned has the one that stands there."""
    usual = written.nominal if written else 1.0
    deviation = max((now.high - now.low) / (2.0 * NORMAL_90), LEAST_SPREAD)
    return normal_text(usual * now.middle, usual * deviation, None)


def _over_runs(mine: Sequence[Told], known: Knowledge, seed: int) -> Band:
    """The band of the mean over a wearer's runs of the standing work factor."""
    parts, weights = [], []
    for one in mine:
        course = one.course
        parts.append(standing_work(course, *draws(course, prior_of(course, known), seed)))
        weights.append(course.logged.until - course.logged.doings[0].begun)
    return spread_band(np.average(np.stack(parts), axis=0, weights=np.asarray(weights)))


def day_work(told: Told, seed: int = 1) -> Band:
    """Work of the day of one run over the work planned, what wandered included."""
    return band(told.course, told.now, work_ratio, seed)


def _readings(mine: Iterable[Told]) -> int:
    return sum(
        each.readings
        for one in mine
        for each in one.course.logged.series
        if each.channel not in one.left_out
    )
