"""From one instant to conditions: what may be wrong with people, suits and the console."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from neckring.live.alarm import Rank
from neckring.live.alarm_facts import ChannelNow, DeskNow, Facts, WearerNow
from neckring.live.alarm_holding import Condition, Holds, below, fresh, good, listed, yes
from neckring.live.alarm_limits import beyond, of_limits
from neckring.live.alarm_list import LISTED
from neckring.live.alarm_list_instruments import FLAW_CODES
from neckring.live.alarm_list_people import STOP_CALLED
from neckring.live.estimated import Estimated, LiveSlack
from neckring.live.reading import Flaw
from neckring.station.limits import LimitSheet

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
NOTHING_WRONG = ("nothing", "nothing_wrong", "none")


def conditions(facts: Facts) -> Iterator[Condition]:
    """Every condition that can be judged from one instant alone.

    Args:
        facts: Of the instant.
    """
    yield from _of_the_desk(facts.desk)
    for wearer in facts.wearers:
        yield from _of_people(wearer)
        yield from of_limits(facts, wearer)
        yield from _of_flows(wearer)
        yield from _of_battery(wearer)
        yield from _of_outlook(facts.run_time, wearer)
        yield from _of_suspicions(facts.run_time, wearer)
        yield from _of_sensors(facts.sheet, wearer)


# The console


def _of_the_desk(desk: DeskNow) -> Iterator[Condition]:
    yield listed(STOP_CALLED, yes(bool(desk.stopped)), f"Stop: {desk.stopped}")
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
    would_stop = told is not None and any(
        beyond(limit, limit.value_at(wearer.age), told.value) is Holds.YES
        for limit in sheet.limits
        if (limit.quantity, limit.action) == (channel.quantity, "stop now")
    )
    return ". If true it is beyond what is signed: look at the wearer first" if would_stop else ""


def _flaws(channel: ChannelNow) -> frozenset[Flaw]:
    if channel.reading is None:
        return frozenset({Flaw.STALE})
    return channel.reading.flaws
