"""A rehearsal's report in plain words, and the drill times that it gives."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from neckring.live.drill import DrillReport, FaultStory, Seen
from neckring.outing.failures import FAILURES
from neckring.station.drills import Drill
from neckring.units import Quantity, format_quantity

NOT_SEEN = "not seen"
AT_REAL_SPEED = 1.05
"""Up to here a rehearsal counts as one at real speed; a few late entries are no haste."""


def report_words(report: DrillReport) -> tuple[str, ...]:
    """The whole report, line by line."""
    if not report.stories:
        return ("No fault was put in: there is nothing to compare.",)
    lines = [line for story in report.stories for line in story_words(story)]
    lines += [f"While no fault was there: {done}." for done in report.without_fault]
    return tuple(lines)


def story_words(story: FaultStory) -> Iterator[str]:
    """One fault, line by line."""
    ended = "to the end" if story.ended is None else f"until {_minutes(story.ended)}"
    yield f"{_minutes(story.begun)}, wearer {story.wearer}: {story.words} ({story.fault}), {ended}."
    yield f"  First alarm: {_seen(story.alarm, story.speed)}"
    yield f"  First acknowledged: {_seen(story.acknowledged, story.speed)}"
    yield f"  First told, by symptom or note: {_seen(story.told, story.speed)}"
    yield f"  First action: {_seen(story.action, story.speed)}"
    if story.needs_air:
        yield f"  Fresh air at the face: {_seen(story.fresh_air, story.speed)}"
    yield from (f"  {line}" for line in _against_help(story))
    if story.missed:
        yield f"  Missed: {'; '.join(story.missed)}."


def _minutes(run_time: float) -> str:
    return f"{int(run_time // 60)} min {run_time % 60:.0f} s"


def _seen(seen: Seen | None, speed: float) -> str:
    if seen is None:
        return NOT_SEEN
    real = f" ({_time(seen.real)} real time)" if speed > AT_REAL_SPEED else ""
    return f"after {_time(seen.after)}{real}, {seen.who}, {seen.what}"


def _time(seconds: float) -> str:
    return format_quantity(float(round(seconds)), "time") if seconds >= 0.5 else "less than 1 s"


def _against_help(story: FaultStory) -> Iterator[str]:
    help_time = story.help
    if help_time is None:
        yield "Help clock: the plan has none for it."
        return
    pairs = [("first action", story.action, help_time.noticed)]
    if story.needs_air:
        pairs.append(("fresh air", story.fresh_air, help_time.air))
    for name, seen, allowed in pairs:
        if allowed is None or seen is None:
            yield f"Help clock, {name}: not compared, as {_why(seen, allowed)}."
            continue
        late = seen.after - allowed
        verdict = f"{_time(late)} longer" if late > 0.5 else "within it"
        yield f"Help clock, {name}: {_time(allowed)} planned, {_time(seen.after)} taken: {verdict}."
    if story.speed > AT_REAL_SPEED:
        yield f"At {story.speed:g} times real time people look slower than they are."


def _why(seen: Seen | None, allowed: float | None) -> str:
    return "it was not seen" if seen is None else "the plan has no time for it"


def drills_from(report: DrillReport, suits: dict[str, str], on: datetime.date) -> tuple[Drill, ...]:
    """The times until somebody acted, as drills: `notice_air` or `notice` of the help clock.

    Real time counts; a rehearsal that ran faster says so in each, and is then not offered.

    Args:
        report: Of the rehearsal.
        suits: Wearer to the code of the suit.
        on: The day.
    """
    stops_air = {failure.code for failure in FAILURES if failure.stops_air}
    known = {failure.code for failure in FAILURES}
    made = []
    for story in report.stories:
        if story.action is None or story.fault not in known or story.wearer not in suits:
            continue
        seconds = max(round(story.action.real, 1), 0.1)
        took = Quantity(seconds, seconds, seconds, "exact", f"{seconds} s", "time")
        drill = Drill.model_construct(
            key="notice_air" if story.fault in stops_air else "notice",
            suit=suits[story.wearer],
            took=took,
            on=on,
            source=f"rehearsal: {story.fault}, first action by {story.action.who}",
            speed=1.0 if story.speed <= AT_REAL_SPEED else min(story.speed, 20.0),
        )
        made.append(drill)
    return tuple(made)
