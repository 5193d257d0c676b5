"""An empty form as a file to fill in: every key is there, with what it takes beside it."""

from __future__ import annotations

from collections.abc import Iterator

from neckring.crew import task_load
from neckring.crew.body_map import REGIONS
from neckring.crew.feeling_scales import FEELINGS, SYMPTOMS, TROUBLE
from neckring.records.closeout_page import vitals_of
from neckring.station.gates import Gate
from neckring.station.loading import LoadedStation
from neckring.station.vitals import UNITS


def blank_form(station: LoadedStation, run: str) -> str:
    """A form of a run in which every line but the head is a comment.

    Args:
        station: With the signed gates and the panels.
        run: Code of a run of it.
    """
    return "\n".join(_lines(station, run)) + "\n"


def _lines(station: LoadedStation, run: str) -> Iterator[str]:
    one = station.runs[run]
    gates = station.people.gates if station.people else None
    yield "# Take the # away from what you fill in, and put a value for each __ or drop its line."
    yield "# Every group may stand alone; send it whole. No names."
    yield f"run: {one.code}"
    yield f"wearer: {one.wearer}"
    yield f"filled_on: {one.date.isoformat()}"
    yield f"filled_by: {one.wearer}"
    yield from _readings("before", gates.entry if gates else None)
    yield f"#task_load:    # 0 to {task_load.MOST} in steps of {task_load.STEP}"
    for code, (question, low, high) in task_load.SCALES.items():
        yield f"#  {code}: __    # {question} 0 {low}, 100 {high}"
    yield "#feelings:"
    for code, scale in FEELINGS.items():
        yield f"#  {code}: __    # {scale.question}"
        told = (f"{scale.lowest + place} {word}" for place, word in enumerate(scale.words))
        yield f"#    # {', '.join(told)}"
    yield f"#symptoms:    # {_trouble()}"
    yield from (f"#  {code}: __    # {words}" for code, words in SYMPTOMS.items())
    yield "#body_map:    # as the symptoms; leave out what did not trouble"
    yield from (f"#  {code}: __    # {region.words}" for code, region in REGIONS.items())
    yield "#licensed: [{scale: __, value: __, moment: __}]    # the team's own licence"
    yield "#said: {went_well: __, went_badly: __, change: __}    # no names"
    yield "#masses:"
    yield "#  nude_before: __ kg"
    yield "#  nude_after: __ kg"
    yield "#  drunk: __ mL"
    yield "#  passed: __ mL"
    yield "#  garment_before: __ kg"
    yield "#  garment_after: __ kg"
    yield "#strain: {heart_before: __ bpm, heart_highest: __ bpm}    # core_before, core_highest"
    yield "#recovery: {first: __ bpm, third: __ bpm}    # 30 to 60 s and 2.5 to 3 min after work"
    yield from _readings("release", gates.release if gates else None)
    yield from _misses(station)


def _trouble() -> str:
    return ", ".join(f"{place} {word}" for place, word in enumerate(TROUBLE.words))


def _readings(group: str, gate: Gate | None) -> Iterator[str]:
    yield f"#{group}:"
    yield "#  by: __"
    if gate is not None and gate.questions:
        yield "#  answers:"
        yield from (f"#    {code}: __    # {words}" for code, words in gate.questions.items())
    yield "#  readings:    # in order of time; a repeat measures everything again"
    told = "".join(f", {code}: __ {UNITS[code]}" for code in vitals_of(gate))
    yield f'#    - {{at: "__"{told}}}'


def _misses(station: LoadedStation) -> Iterator[str]:
    panels = ", ".join(station.panels.panels) if station.panels else ""
    yield "#near_misses:"
    yield "#  - words: __"
    yield "#    happened_on: __"
    yield '#    happened_at: "__"'
    yield "#    known_on: __"
    yield '#    known_at: "__"'
    yield "#    harm: __    # none, discomfort, first aid, medical care, damage"
    yield f"#    panels: [{panels}]"
    yield "#    reported: {}    # panel to day"
