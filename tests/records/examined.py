"""A small examination, made by hand through the real records: every figure in it is invented."""

from __future__ import annotations

import datetime
from dataclasses import replace

from neckring.procedure.authoring import AuthoringFinding
from neckring.procedure.examination import (
    Advised,
    Catch,
    Claim,
    Difference,
    Examination,
    Outcome,
    SlipCounts,
    SlipStory,
    StepSafety,
    TraceRow,
)
from neckring.procedure.findings import Verdict
from neckring.procedure.fitting_rows import Slip, SlipKind
from neckring.procedure.listing import Listed, listed
from neckring.procedure.model import Action, Duration, State, after
from neckring.procedure.risk import Way, judged
from neckring.procedure.timing import times
from neckring.procedure.way_out import Company, FastestWay, Goal, WayOut
from neckring.procedure.wording import wording_findings
from neckring.records.proof_page import page
from neckring.station.kit import Kit
from neckring.station.procedure_sheet import ProcedureSheet
from neckring.station.validation import validate
from neckring.station.yaml_reading import read_yaml

KIT = """
code: heron
title: Kit of Heron
things:
  suit: {words: the suit, states: ['off', 'on']}
  helmet: {words: the helmet, states: ['off', seated, locked]}
  fan: {words: the fan, states: ['off', running, failed]}
  hose: {words: the water hose, states: [parted, half, home]}
  bench: {words: the bench, states: [clear, full], of: all}
conditions:
  aired: helmet is off or fan is running
moves:
  don: {words: put on the suit, by: [self, tender], changes: {suit: 'on'}, takes: 20..40..90 s}
  join: {words: join the water hose, by: [tender, partner], needs: hose is parted,
    changes: {hose: home}, half: {hose: half}, takes: 3..5..10 s, shows: hose_holds}
  start_fan: {words: start the fan, by: [self, tender], needs: fan is off,
    changes: {fan: running}, takes: 2..3..6 s}
  seat: {words: seat the helmet, by: [tender, partner], needs: helmet is off,
    changes: {helmet: seated}, takes: 4..6..12 s}
  lock: {words: lock the helmet, by: [tender, partner], needs: helmet is seated,
    changes: {helmet: locked}, takes: 2..4..8 s}
  take_off: {words: take off the helmet, by: [self, tender], needs: helmet is seated|locked,
    changes: {helmet: 'off'}, takes: 3..5..12 s}
signs:
  air_felt: {words: feel air on the face, when: fan is running, sense: felt, by: [self],
    takes: 2..3..6 s}
  hose_holds: {words: feel the water hose hold against a pull, when: hose is home, sense: felt,
    by: [tender, partner], takes: 2..3..6 s}
rules:
  no_air: {words: The helmet is locked and no air moves, never: helmet is locked and not aired,
    harm: death, hazard: A locked helmet without moving air,
    consequence: The wearer loses consciousness, avoid: Air is felt before the helmet is locked}
  wet_floor: {words: A water hose is half home for a minute, never: hose is half,
    longer_than: 60 s, harm: injury, hazard: A hose that drips, consequence: The wearer slips,
    avoid: The hose holds against a pull}
breakdowns:
  fan_stops: {words: The fan stops, needs: fan is running, changes: {fan: failed}}
relief: {inside: suit is on, fresh_air: aired, out: suit is off}
blind_to: [A scratched visor]
"""

ALONE = """
code: close-in
title: Close in a wearer
about: Demo data, invented.
kit: heron
ends: A.helmet is locked
steps:
  - {who: A, move: don, expect: the suit sits on the shoulders}
  - {who: tender, move: join, say: Water hose?, answer: Hose home.}
  - {who: A, move: start_fan, expect: the fan hums, if_not: Stop. Change the pack.}
  - {meet: [A, tender]}
  - {who: tender, move: seat, expect: one click}
  - {who: tender, tell: We lock now., caution: wet_floor, note: Speak slowly.}
  - {who: tender, move: lock, caution: no_air, expect: a green mark, if_not: Take off the helmet.}
  - {who: A, check: air_felt, how: own safety, say: Air?, answer: Air felt.}
accepted:
  - {step: 2, slip: half done, rule: wet_floor, why: The floor is a grid., by: lead,
     date: 2030-05-01}
"""

TWO = """
code: both
title: Close in two wearers
kit: heron
wearers: 2
ends: A.helmet is locked and B.helmet is locked
steps:
  - {who: A, move: don}
  - {who: B, move: don}
  - {who: tender, on: A, move: join}
  - {who: tender, on: B, move: join}
  - {who: A, move: start_fan}
  - {who: B, move: start_fan}
  - {meet: [A, B, tender]}
  - {who: B, on: A, move: seat}
  - {who: B, on: A, move: lock, caution: no_air}
  - {who: A, check: air_felt, how: own safety}
  - {who: tender, on: B, move: seat}
  - {who: tender, on: B, move: lock, caution: no_air}
  - {who: B, check: air_felt, how: own safety}
"""


def listed_of(text: str) -> Listed:
    """A procedure as written, made exact."""
    trees = []
    for content in (KIT, text):
        root, faults = read_yaml(content, "x.yaml")
        assert not faults, faults
        trees.append(root)
    kit, kit_faults = validate(Kit, trees[0])
    sheet, sheet_faults = validate(ProcedureSheet, trees[1])
    assert kit is not None, kit_faults
    assert sheet is not None, sheet_faults
    return listed(sheet.code, {sheet.code: sheet}, {kit.code: kit})


def states_of(made: Listed) -> tuple[State, ...]:
    state = made.procedure.model.start
    found = [state]
    for step in made.procedure.steps:
        state = after(Action(step.name, step.guard, step.effects), state)
        found.append(state)
    return tuple(found)


FAN = Difference("the fan", "running", "off")
HOSE = Difference("the water hose", "home", "half")
AIR_FELT = Catch("air_felt", "feel air on the face", 5, "A", 3, 3.0)


def left_out(made: Listed) -> SlipStory:
    """The fan is forgotten: harm."""
    way = Way((Slip(SlipKind.OMITTED, 2),))
    return SlipStory(
        words="start the fan, left out",
        kind="left out",
        step=3,
        outcome=Outcome.HARM,
        rule="no_air of A",
        harm="death",
        sentence="The helmet is locked and no air moves: the fan was not started 3 steps before.",
        trace=(
            TraceRow(3, "start the fan: left out", (FAN,)),
            TraceRow(4, "meet", (FAN,)),
            TraceRow(5, "seat the helmet", (FAN,)),
            TraceRow(6, "tell: We lock now.", (FAN,)),
            TraceRow(7, "lock the helmet", (FAN,)),
        ),
        cause=("the fan",),
        seconds=13.7,
        catches=(AIR_FELT,),
        risk=judged(way, made.procedure).estimate,
    )


def half_done(made: Listed) -> SlipStory:
    """The hose is joined half: latent, and then harm that the lead accepts."""
    way = Way((Slip(SlipKind.HALF_DONE, 1),))
    return SlipStory(
        words="join the water hose, half done",
        kind="half done",
        step=2,
        outcome=Outcome.HARM,
        rule="wet_floor",
        harm="injury",
        sentence="A water hose is half home for a minute: nobody pulls at it.",
        trace=(
            TraceRow(2, "join the water hose: half done", (HOSE,)),
            TraceRow(None, "The fan stops", (HOSE, Difference("the fan", "running", "failed"))),
            TraceRow(5, "seat the helmet", (HOSE,)),
        ),
        cause=("the water hose", "the fan"),
        seconds=61.0,
        catches=(),
        risk=judged(way, made.procedure).estimate,
        accepted="The floor is a grid.",
    )


def hidden() -> SlipStory:
    """Something that nobody notices."""
    return SlipStory(
        words="start the fan, repeated",
        kind="repeated",
        step=3,
        outcome=Outcome.LATENT,
        rule="",
        harm="",
        sentence="Nothing shows that the fan was started twice.",
        trace=(TraceRow(3, "start the fan, twice", (FAN,)),),
        cause=("the fan",),
        seconds=20.0,
        catches=(),
        risk=None,
    )


def ways_of(made: Listed) -> tuple[WayOut, ...]:
    state = states_of(made)[-1]
    return (
        WayOut(
            Goal.FRESH_AIR,
            Company.ALONE,
            40,
            ((0, 10), (1, 30)),
            ((0, 10), (5, 30)),
            ((0, 10), (12, 30)),
            0,
            None,
            (state, ("take_off on A by A",)),
        ),
        WayOut(
            Goal.OUT,
            Company.TENDER,
            40,
            ((0, 10), (2, 26)),
            ((0, 10), (45, 26)),
            ((0, 10), (102, 26)),
            4,
            state,
            (state, ("take_off on A by tender", "don on A by tender")),
        ),
    )


def safety_of(made: Listed) -> tuple[StepSafety, ...]:
    way = FastestWay(("take_off on A by A",), Duration(3.0, 5.0, 12.0))
    return tuple(
        StepSafety(step.number, (way, None, way), int(step.number == 8), int(step.number == 3))
        for step in made.procedure.steps
    )


def examination(text: str = ALONE) -> Examination:
    """Broken, with a slip that harms, one that is accepted, and one that stays hidden."""
    made = listed_of(text)
    slips = (left_out(made), half_done(made), hidden())
    return Examination(
        listed=made,
        verdict=Verdict.BROKEN,
        sentence="One slip does harm before anybody can notice: start the fan, left out.",
        claims=(
            Claim("Does it run as written?", Verdict.PROVED, "It does.", (), 9, 0.00012, "steps"),
            Claim(
                "Does any slip do harm?",
                Verdict.BROKEN,
                "Two do.",
                ("start the fan: left out", "seat the helmet", "lock the helmet"),
                None,
                0.031,
                "compiled search",
            ),
            Claim("Does any pair?", Verdict.NOT_DECIDED, "A bound was hit.", (), 1234567, 12.4),
        ),
        singles=SlipCounts(
            41,
            {
                Outcome.HARM: 2,
                Outcome.LATENT: 1,
                Outcome.CAUGHT: 9,
                Outcome.BLOCKED: 12,
                Outcome.HARMLESS: 17,
            },
            {"left out": {Outcome.HARM: 1, Outcome.CAUGHT: 6}, "half done": {Outcome.HARM: 1}},
            0.0002,
        ),
        pairs=SlipCounts(1640, {Outcome.HARM: 121, Outcome.HARMLESS: 1519}, {}, 0.05),
        harmful_pairs=("seat the helmet, late, with the fan stops",),
        stories=slips,
        states=states_of(made),
        relief=(
            "fresh air at the face, alone",
            "fresh air at the face, with a tender",
            "out of the suit, with a tender",
        ),
        steps=safety_of(made),
        ways=ways_of(made),
        timing=times(made.procedure),
        advised=(Advised((AIR_FELT,), 1, 1, 3.0, True),),
        authoring=(
            AuthoringFinding(True, ("moves", "seat", "needs"), "nothing allows this move"),
            AuthoringFinding(False, ("steps", 3), "this step changes nothing", "look at step 3"),
        ),
        wording=wording_findings(made.sheet, made.ground.kit),
        total_risk=slips[0].risk,
    )


def proved(text: str = ALONE) -> Examination:
    """The same without anything wrong."""
    found = examination(text)
    return replace(
        found,
        verdict=Verdict.PROVED,
        sentence="No rule breaks in any order, and every slip is caught or harmless.",
        claims=tuple(replace(claim, verdict=Verdict.PROVED, trace=()) for claim in found.claims),
        singles=SlipCounts(41, {Outcome.CAUGHT: 41}, {"left out": {Outcome.CAUGHT: 41}}, 0.0002),
        pairs=None,
        harmful_pairs=(),
        stories=(),
        advised=(),
        authoring=(),
        wording=(),
        total_risk=None,
    )


def undecided() -> Examination:
    """A bound was hit, and nothing else was looked for."""
    return replace(
        proved(),
        verdict=Verdict.NOT_DECIDED,
        sentence="A bound was hit before every state was seen.",
        singles=SlipCounts(0, {}, {}, 0.0),
        ways=(),
    )


EXAMINATIONS = {
    "broken": examination,
    "broken, two wearers": lambda: examination(TWO),
    "proved": proved,
    "proved, two wearers": lambda: proved(TWO),
    "not decided": undecided,
}


DAY = datetime.date(2030, 5, 1)


def page_of(found: Examination) -> str:
    """Its page, on a day of the tests."""
    return page(found, "Tarn Quarry", invented=True, date=DAY)
