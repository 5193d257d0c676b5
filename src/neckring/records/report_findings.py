"""What a reader should look at first: a run in a few sentences, the gravest first. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from neckring.records.report_records import RunReport
from neckring.records.report_steps import late_steps
from neckring.records.report_words import capital, count, lasting, moment, person, share, whom
from neckring.station.fault import listed

FEW_GOOD = 0.95
"""Share of good readings under which a channel is told of; assumed."""
NONE_GRAVE = "Nothing was stopped, no alarm to act at once was raised, and no call was missed."


def headline(report: RunReport) -> str:
    """The run in one sentence."""
    kind = "rehearsal" if report.rehearsal else "run"
    lasted = lasting(report.last - report.first_dressing)
    if report.closed is None:
        return f"This {kind} was not closed: {lasted} are recorded."
    stops = sum(one.kind == "stop" for one in report.interruptions)
    stopped = f"with {count(stops, 'stop')}" if stops else "without a stop"
    why = f" Reason given: {report.closed_why}." if report.closed_why else ""
    return f"This {kind} was closed after {lasted}, {stopped}.{why}"


def findings(report: RunReport) -> tuple[str, ...]:
    """What to look at first."""
    found = [*_stops(report), *_alarms(report), *_calls(report), *_clocks(report)]
    if not found:
        found = [NONE_GRAVE]
    return (*found, *_deviations(report), *_waiting(report), *_readings(report), *_ground(report))


def _stops(report: RunReport) -> Iterator[str]:
    for one in report.interruptions:
        if one.kind == "stop":
            after = "to the end" if one.ended is None else f"for {lasting(one.ended - one.at)}"
            because = f": {one.reason}" if one.reason else ", no reason given"
            yield (
                f"{one.by} stopped {whom(one.wearers)} at {moment(report, one.at)}, {after}"
                f"{because}."
            )
    if report.symptoms:
        told = {one.wearer for one in report.symptoms if one.wearer}
        yield f"Told by {whom(sorted(told))}: {count(len(report.symptoms), 'symptom')}."


def _alarms(report: RunReport) -> Iterator[str]:
    grave = [one for one in report.alarms if one.rank == 3]
    if grave:
        never = sum(one.acknowledged is None for one in grave)
        waits = [a.acknowledged - a.raised for a in grave if a.acknowledged is not None]
        told = count(len(grave), "alarm")
        if not waits:
            yield f"{told} to act at once: nobody acknowledged any."
            return
        nobody = f"; nobody acknowledged {never} of them" if never else ""
        yield (
            f"{told} to act at once; {len(waits)} acknowledged, the longest after "
            f"{lasting(max(waits))}{nobody}."
        )


def _calls(report: RunReport) -> Iterator[str]:
    for one in report.calls:
        if one.missed:
            times = listed([moment(report, at) for at in one.missed], "and")
            yield (
                f"{capital(person(one.wearer))} missed {count(len(one.missed), 'call')} "
                f"of {len(one.missed) + len(one.answered)}, at {times}."
            )


def _clocks(report: RunReport) -> Iterator[str]:
    for one in report.clocks:
        if one.over is not None:
            yield (
                f"The reserve clock {one.code} of {person(one.wearer)} ran out at "
                f"{moment(report, one.over)}."
            )
    for each in report.turn_backs:
        real = min((at for at in (each.called, each.home) if at is not None), default=None)
        if real is not None and each.planned is not None and real > each.planned:
            yield (
                f"{capital(person(each.wearer))} started home "
                f"{lasting(real - each.planned)} after the planned turn-back time."
            )


def _deviations(report: RunReport) -> Iterator[str]:
    if report.deviations:
        kinds = [one.kind for one in report.deviations]
        told = [f"{kinds.count(kind)} {kind}" for kind in dict.fromkeys(kinds)]
        yield f"Otherwise than written: {listed(told, 'and')}."
    if report.failed_steps:
        yield f"A step did not show the expected sign {count(len(report.failed_steps), 'time')}."
    if report.refused:
        yield f"The desk refused {count(len(report.refused), 'deed')}."


def _waiting(report: RunReport) -> Iterator[str]:
    for one in report.waits:
        if one.closed >= 60.0:
            yield (
                f"{capital(person(one.wearer))} waited {lasting(one.closed)} in procedures "
                "with the face closed in."
            )
    late = late_steps(report.procedures)
    if late:
        worst = late[0]
        yield (
            f"{count(len(late), 'step')} took longer than the kit's most; the longest over it was "
            f"{worst.procedure} {worst.number} ({worst.words}), {lasting(worst.late)}."
        )


def _readings(report: RunReport) -> Iterator[str]:
    if report.provenance.readings:
        yield f"This report is made without readings: {report.provenance.readings}."
    for letter in report.letters:
        silent = [o.channel for o in report.sensors if o.wearer == letter and not o.count]
        if silent:
            yield f"{capital(person(letter))}: nothing came from {listed(silent, 'and')}."
    for one in report.sensors:
        if one.good < FEW_GOOD * one.count:
            yield (
                f"{capital(person(one.wearer))}: only {share(one.good, one.count)} of the "
                f"readings of {one.channel} were good."
            )


def _ground(report: RunReport) -> Iterator[str]:
    if report.restarts:
        yield f"The console came back {count(report.restarts, 'time')} in the run."
    if report.provenance.changed:
        yield (
            "Station files were changed since the run: "
            f"{listed(report.provenance.changed, 'and')}. Steps, plan and limits shown here are "
            "those of today's files."
        )
