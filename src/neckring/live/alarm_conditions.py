"""From one instant to conditions: each holds, does not, nearly does, or is unknown.

Between the value that raises an alarm and the one that ends it lies a dead band, in which a
condition is NEAR: it stays what it was. A condition of which nothing is known stays what it was,
too: a lost sensor never ends an alarm, and never raises one about what it measured.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum

from neckring.live.alarm import Rank
from neckring.live.alarm_facts import ChannelNow, DeskNow, Facts, WearerNow
from neckring.live.alarm_list import (
    FLAW_CODES,
    LISTED,
    QUANTITY_WORDS,
    RANK_OF_ACTION,
    limit_code,
)
from neckring.live.estimated import Estimated, LiveSlack
from neckring.live.reading import Flaw
from neckring.station.limits import LIMITED, Limit, LimitSheet
from neckring.units import format_quantity

MINUTE = 60.0
# Shares of what should flow below which a flow is lost, and above which it is back; practice.
LOST, BACK = 0.3, 0.4
# The same of the battery's voltage over its cut-off; practice.
EMPTY, NOT_EMPTY, LOW, NOT_LOW = 1.0, 1.03, 1.03, 1.05
# Chance of a suspicion that raises, and that ends; practice.
LIKELY, NOT_LIKELY, STRONG, NOT_STRONG = 0.5, 0.4, 0.9, 0.8
NEAR_TURN, SOON_TURN, TURN_BAND = 10.0 * MINUTE, 5.0 * MINUTE, 1.2
CLOCK_NEAR = 2.0 * MINUTE
SILENT = 30.0
LEAST_DISK, LEAST_SHARE = 500e6, 0.02
SLACK_BAND = 1.1
# An estimate older than this says nothing of now [s]; three rounds of a minute each.
ESTIMATE_HOLDS = 3.0 * MINUTE
# How far within its limit a quantity must come back, by its dimension [SI]; practice.
DEAD_BANDS = {
    "temperature": 0.1,
    "temperature_difference": 0.1,
    "frequency": 3.0 / MINUTE,
    "fraction": 0.002,
    "specific_energy": 100.0,
    "pressure": 50.0,
}
# To how much a value is rounded in an alarm, by its dimension [SI].
SHOWN_STEPS = {
    "temperature": 0.1,
    "temperature_difference": 0.1,
    "frequency": 1.0 / MINUTE,
    "fraction": 0.001,
    "specific_energy": 100.0,
    "pressure": 10.0,
}
NOTHING_WRONG = ("nothing", "nothing_wrong", "none")


class Holds(Enum):
    """Whether a condition holds."""

    YES = "yes"
    NEAR = "near"
    NO = "no"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Condition:
    """One thing that may be wrong, at one instant.

    Attributes:
        code: In the list of alarms.
        wearer: A, B, or empty.
        subject: Which channel, clock, tablet; empty where there is only one.
        rank: How urgent.
        words: What is wrong.
        holds: Whether it is so.
        stage: Tells limits of one quantity apart.
        waits: How long it must hold [s].
        source: What a sensor's channel comes from.
        quantity: What a sensor's channel measures.
    """

    code: str
    wearer: str
    subject: str
    rank: Rank
    words: str
    holds: Holds
    stage: str = ""
    waits: float = 0.0
    source: str = ""
    quantity: str = ""

    @property
    def key(self) -> tuple[str, str, str]:
        """Of the tree of causes."""
        return (self.code, self.wearer, self.subject)

    @property
    def identity(self) -> tuple[str, str, str, str]:
        """Of what is remembered."""
        return (*self.key, self.stage)


def listed(
    code: str, holds: Holds, words: str, wearer: str = "", subject: str = "", source: str = ""
) -> Condition:
    """A condition with the rank and the time that the list gives it."""
    entry = LISTED[code]
    rank = entry.rank or Rank.KNOW
    return Condition(code, wearer, subject, rank, words, holds, waits=entry.waits, source=source)


def conditions(facts: Facts) -> Iterator[Condition]:
    """Every condition that can be judged from one instant alone.

    Args:
        facts: Of the instant.
    """
    yield from _of_the_desk(facts.desk)
    for wearer in facts.wearers:
        yield from _of_people(wearer)
        yield from _of_limits(facts, wearer)
        yield from _of_flows(wearer)
        yield from _of_battery(wearer)
        yield from _of_outlook(facts.run_time, wearer)
        yield from _of_suspicions(facts.run_time, wearer)
        yield from _of_sensors(facts.sheet, wearer)


def yes(holds: bool) -> Holds:
    """YES or NO."""
    return Holds.YES if holds else Holds.NO


def below(value: float, raises: float, ends: float) -> Holds:
    """Whether a value is below what raises; NEAR until it is above what ends."""
    if value < raises:
        return Holds.YES
    return Holds.NO if value > ends else Holds.NEAR


def good(wearer: WearerNow, quantity: str) -> tuple[float, ...]:
    """Good readings of a quantity [SI]; none when no channel of it is good."""
    return tuple(
        channel.reading.value
        for channel in wearer.channels
        if channel.quantity == quantity and channel.reading is not None and channel.reading.good
    )


def fresh(run_time: float, wearer: WearerNow) -> Estimated | None:
    """The estimate, unless it is too old to say anything of now."""
    estimate = wearer.estimate
    return estimate if estimate and run_time - estimate.run_time <= ESTIMATE_HOLDS else None


def shown(quantity: str, value: float) -> str:
    """A limited quantity's value for people."""
    dimension = LIMITED[quantity].dimension
    step = SHOWN_STEPS[dimension]
    return format_quantity(round(value / step) * step, dimension)


# The console


def _of_the_desk(desk: DeskNow) -> Iterator[Condition]:
    yield listed("stop-called", yes(bool(desk.stopped)), f"Stop: {desk.stopped}")
    yield listed(
        "book-unwritable",
        yes(bool(desk.book_error)),
        f"The log book cannot be written: {desk.book_error}",
    )
    yield listed("database-version", yes(bool(desk.database_warning)), desk.database_warning or "-")
    yield listed(
        "clock-set",
        yes(desk.clock_set != 0.0),
        f"The console's clock was set by {desk.clock_set:+.0f} s",
    )
    yield _of_the_disk(desk)
    for tablet, silent in sorted(desk.tablets.items()):
        words = f"Tablet {tablet} has not been heard from"
        yield listed("tablet-silent", yes(silent >= SILENT), words, subject=tablet)


def _of_the_disk(desk: DeskNow) -> Condition:
    if desk.disk_free is None:
        return listed("disk-nearly-full", Holds.UNKNOWN, "How full the disk is is not known")
    least = max(LEAST_DISK, LEAST_SHARE * desk.disk_size)
    words = f"Only {desk.disk_free / 1e6:.0f} MB are free on the disk"
    return listed("disk-nearly-full", below(desk.disk_free, least, 2.0 * least), words)


# People


def _of_people(wearer: WearerNow) -> Iterator[Condition]:
    letter, missed = wearer.letter, wearer.missed_calls
    words = "A symptom call was not answered"
    if missed > 1:
        words = f"{missed} symptom calls in a row were not answered"
    yield listed("call-missed", yes(missed > 0), words, letter)
    yield listed(
        "symptom", yes(bool(wearer.symptoms)), f"Symptom: {'; '.join(wearer.symptoms)}", letter
    )
    for clock in wearer.clocks:
        over, near = clock.left <= 0.0, clock.left <= CLOCK_NEAR
        yield listed("clock-over", yes(over), f"{clock.words}: time is over", letter, clock.code)
        words = f"{clock.words}: nearly over"
        yield listed("clock-near", yes(near and not over), words, letter, clock.code)


# Limits of the signed sheet


def _of_limits(facts: Facts, wearer: WearerNow) -> Iterator[Condition]:
    for place, limit in enumerate(facts.sheet.limits):
        yield _of_limit(facts.run_time, wearer, limit, place)


def _of_limit(run_time: float, wearer: WearerNow, limit: Limit, place: int) -> Condition:
    """One limit, held against good readings and against the middle of the estimate."""
    said = [(value, "read") for value in good(wearer, limit.quantity)]
    estimate = fresh(run_time, wearer)
    if estimate is not None and limit.quantity in estimate.quantities:
        said.append((estimate.quantities[limit.quantity].middle, "estimated"))
    value = limit.value_at(wearer.age)
    sustained = limit.sustained.nominal if limit.sustained else 0.0
    judged = [(_beyond(limit, value, number), number, how) for number, how in said]
    return Condition(
        limit_code(limit.quantity),
        wearer.letter,
        "",
        RANK_OF_ACTION[limit.action],
        _limit_words(limit, value, judged),
        _worst([holds for holds, _, _ in judged]),
        stage=f"{place + 1}",
        waits=sustained,
    )


def _beyond(limit: Limit, value: float, number: float) -> Holds:
    sign = 1.0 if limit.stop_if == "above" else -1.0
    excess = sign * (number - value)
    band = DEAD_BANDS[LIMITED[limit.quantity].dimension]
    return below(-excess, 0.0, band)


def _worst(all_hold: list[Holds]) -> Holds:
    if not all_hold:
        return Holds.UNKNOWN
    return next(holds for holds in Holds if holds in all_hold)


def _limit_words(limit: Limit, value: float, judged: list[tuple[Holds, float, str]]) -> str:
    crossed = [(number, how) for holds, number, how in judged if holds is Holds.YES]
    name = QUANTITY_WORDS[limit.quantity]
    told = ", ".join(f"{shown(limit.quantity, number)} {how}" for number, how in crossed)
    long = f" for {limit.sustained.text}" if limit.sustained and limit.sustained.nominal else ""
    bound = f"{limit.stop_if} the signed {shown(limit.quantity, value)}{long}"
    begun = f"{name[0].upper()}{name[1:]}"
    return (
        f"{begun} {told}, {bound}: {limit.action}" if told else f"{begun} {bound}: {limit.action}"
    )


# Flows and battery, as read


def _of_flows(wearer: WearerNow) -> Iterator[Condition]:
    for code, quantity, name in (
        ("air-lost", "air_flow", "air flow"),
        ("water-lost", "water_flow", "water flow"),
    ):
        wanted, read = wearer.should_flow.get(quantity, 0.0), good(wearer, quantity)
        if wanted <= 0.0:
            yield listed(code, Holds.NO, f"No {name} is wanted", wearer.letter)
            continue
        holds = below(max(read), LOST * wanted, BACK * wanted) if read else Holds.UNKNOWN
        share = 100.0 * max(read) / wanted if read else 0.0
        words = f"The {name} is lost: {share:.0f} % of what it should be"
        yield listed(code, holds, words, wearer.letter)


def _of_battery(wearer: WearerNow) -> Iterator[Condition]:
    cut_off, read = wearer.cut_off_voltage, good(wearer, "battery_voltage")
    for code, raises, ends in (
        ("battery-empty", EMPTY, NOT_EMPTY),
        ("battery-low", LOW, NOT_LOW),
    ):
        holds, words = Holds.UNKNOWN, "The battery's voltage is not known"
        if cut_off <= 0.0:
            holds = Holds.NO
        elif read:
            holds = below(min(read), raises * cut_off, ends * cut_off)
            words = f"The battery is at {min(read):.1f} V; it is cut off at {cut_off:.1f} V"
        yield listed(code, holds, words, wearer.letter)


# The estimate


def _of_outlook(run_time: float, wearer: WearerNow) -> Iterator[Condition]:
    estimate = fresh(run_time, wearer)
    silent = wearer.estimate is not None and estimate is None
    words = "The estimate is older than 3 min and says nothing of now"
    yield listed("estimate-old", yes(silent), words, wearer.letter)
    for code, near, ends in (
        ("turn-back-passed", 0.0, 0.0),
        ("turn-back-soon", SOON_TURN, TURN_BAND * SOON_TURN),
        ("turn-back-near", NEAR_TURN, TURN_BAND * NEAR_TURN),
    ):
        left = _left(run_time, estimate, passed=code == "turn-back-passed")
        holds = Holds.UNKNOWN if estimate is None else below(left, near, ends)
        words = f"The way home must begin in {max(0.0, left) / MINUTE:.0f} min"
        if left < 0.0:
            words = "The time to turn back has passed"
        yield listed(code, holds if wearer.away else Holds.NO, words, wearer.letter)
    yield from _of_slack(wearer, estimate)


def _left(run_time: float, estimate: Estimated | None, passed: bool) -> float:
    """How long until the way home must begin [s]: at the middle of its band, or at its low end."""
    if estimate is None or not estimate.failures:
        return float("inf")
    if estimate.turn_back is None:
        return -1.0
    band = estimate.turn_back
    return (band.middle if passed else band.low) - run_time


def _of_slack(wearer: WearerNow, estimate: Estimated | None) -> Iterator[Condition]:
    failures = estimate.failures if estimate is not None else ()
    for code, end in (("slack-below-reserve", "middle"), ("slack-in-doubt", "low")):
        least = min(failures, key=lambda one: getattr(one.slack, end) - one.reserve, default=None)
        holds, words = Holds.UNKNOWN, "Slack is not known"
        if estimate is not None:
            holds, words = Holds.NO, "Nothing can fail that help would come too late for"
        if least is not None:
            reserve = least.reserve
            holds = below(getattr(least.slack, end), reserve, SLACK_BAND * reserve + 1.0)
            words = _slack_words(least, failures, end)
        yield listed(code, holds, words, wearer.letter)


def _slack_words(least: LiveSlack, failures: tuple[LiveSlack, ...], end: str) -> str:
    others = [
        one.words for one in failures if one is not least and getattr(one.slack, end) < one.reserve
    ]
    besides = f"; so too if {', or '.join(others)}" if others else ""
    may = "comes" if end == "middle" else "may come"
    return f"If {least.words}, help {may} later than the reserve allows{besides}"


def _of_suspicions(run_time: float, wearer: WearerNow) -> Iterator[Condition]:
    for one in wearer.estimate.suspicions if wearer.estimate is not None else ():
        if one.code in NOTHING_WRONG:
            continue
        stands = f" (by {', '.join(one.stands_on)})" if one.stands_on else ""
        words = f"Perhaps {one.words}{stands}. {one.first_action}".strip()
        for code, raises, ends in (
            ("suspicion-strong", STRONG, NOT_STRONG),
            ("suspicion", LIKELY, NOT_LIKELY),
        ):
            holds = below(-one.chance, -raises, -ends)
            if fresh(run_time, wearer) is None:
                holds = Holds.UNKNOWN
            yield listed(code, holds, words, wearer.letter, one.code)


# Sensors


def _of_sensors(sheet: LimitSheet, wearer: WearerNow) -> Iterator[Condition]:
    watched = {limit.quantity for limit in sheet.limits if limit.action == "stop now"}
    for channel in wearer.channels:
        flaws = _flaws(channel)
        for flaw, code in FLAW_CODES.items():
            words = f"{channel.name}: {LISTED[code].means.removeprefix('a channel').strip()}"
            words += _if_it_is_true(sheet, wearer, channel)
            holds = yes(Flaw(flaw) in flaws)
            made = listed(code, holds, words, wearer.letter, channel.name, channel.source)
            rank = Rank.ACT_SOON if channel.quantity in watched else made.rank
            made = replace(made, rank=rank, quantity=channel.quantity)
            yield made


def _if_it_is_true(sheet: LimitSheet, wearer: WearerNow, channel: ChannelNow) -> str:
    """What a flawed reading would mean; it is used for nothing, but must not be shrugged off."""
    told = channel.reading
    beyond = told is not None and any(
        _beyond(limit, limit.value_at(wearer.age), told.value) is Holds.YES
        for limit in sheet.limits
        if (limit.quantity, limit.action) == (channel.quantity, "stop now")
    )
    return ". If true it is beyond what is signed: look at the wearer first" if beyond else ""


def _flaws(channel: ChannelNow) -> frozenset[Flaw]:
    if channel.reading is None:
        return frozenset({Flaw.STALE})
    return channel.reading.flaws
