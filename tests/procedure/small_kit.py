"""A small invented kit and procedures for it, read as a station's files are."""

# ruff: noqa: E501
from __future__ import annotations

from functools import cache
from typing import TypeVar

from neckring.procedure.listing import Listed, listed
from neckring.station.kit import Kit
from neckring.station.kit_references import kit_faults
from neckring.station.procedure_references import procedure_faults
from neckring.station.procedure_sheet import ProcedureSheet
from neckring.station.validation import validate
from neckring.station.written import Written
from neckring.station.yaml_reading import read_yaml

Model = TypeVar("Model", bound=Written)

KIT = """
code: trial
title: A trial kit
things:
  helmet: {words: the helmet, states: [off, seated, locked]}
  hose: {words: the hose, states: [parted, half, home]}
  fan: {words: the fan, states: [off, on, failed]}
  gloves: {words: the gloves, states: [off, on]}
  blower: {words: the blower, states: [off, on], of: all}
conditions:
  air_moving: (blower is on and hose is half|home) or fan is on
moves:
  start_blower: {words: start the blower, by: [tender], needs: blower is off, changes: {blower: on}, takes: 1..2..3 s}
  join_hose:
    words: join the hose
    by: [self, partner, tender]
    needs: hose is not home
    actor_needs: gloves is off
    changes: {hose: home}
    half: {hose: half}
    kind: joining
    takes: 3..5..10 s
  part_hose: {words: part the hose, by: [tender], needs: hose is not parted, only_if: helmet is off, changes: {hose: parted}, kind: joining, takes: 2..3..5 s}
  start_fan: {words: start the fan, by: [self, tender], needs: fan is off, changes: {fan: on}, takes: 1..2..4 s, shows: air_felt}
  seat_helmet: {words: seat the helmet, by: [tender, partner], needs: helmet is off, only_if: air_moving, changes: {helmet: seated}, takes: 4..6..12 s}
  lock_helmet: {words: lock the helmet, by: [tender], needs: helmet is seated, only_if: air_moving, changes: {helmet: locked}, takes: 2..3..6 s}
  lift_helmet: {words: lift the helmet off, by: [self, tender], needs: helmet is not off, actor_needs: gloves is off, changes: {helmet: off}, takes: 3..5..9 s}
  don_gloves: {words: put on the gloves, by: [self], needs: gloves is off, changes: {gloves: on}, takes: 5..8..15 s}
signs:
  air_felt: {words: feel air on the face, when: air_moving, sense: felt, by: [self], takes: 2..3..5 s}
  hose_home: {words: see the hose fully home, when: hose is home, sense: seen, by: [tender, partner], takes: 1..2..4 s}
rules:
  no_air: {words: The helmet is locked and no air moves, never: helmet is locked and not air_moving, harm: death, hazard: no air, consequence: suffocation, avoid: start the air first}
  stale: {words: The helmet is on without moving air, never: helmet is not off and not air_moving, longer_than: 20 s, clock: fans, harm: serious injury, hazard: stale air, consequence: faintness, avoid: start the air first}
breakdowns:
  fan_fails: {words: The fan stops, needs: fan is on, changes: {fan: failed}, plan: fans}
relief: {inside: helmet is not off, fresh_air: helmet is off or air_moving, out: helmet is off}
"""

DRESS = """
code: dress
title: A trial dressing
kit: trial
ends: A.helmet is locked and A.hose is home
steps:
  - {who: tender, move: start_blower}
  - {who: tender, move: join_hose}
  - {who: tender, check: hose_home}
  - {meet: [A, tender]}
  - {who: A, check: air_felt, how: own safety}
  - {meet: [A, tender]}
  - {who: tender, move: seat_helmet, say: Helmet coming, answer: Ready for the helmet}
  - {who: tender, move: lock_helmet}
"""

TWO = """
code: two
title: Two who dress each other
kit: trial
wearers: 2
ends: A.helmet is seated and B.helmet is seated
steps:
  - {who: tender, move: start_blower}
  - {who: A, on: B, move: join_hose}
  - {who: B, on: A, move: join_hose}
  - {meet: [A, B, tender]}
  - {who: A, on: B, move: seat_helmet}
  - {who: B, on: A, move: seat_helmet}
"""


def read(model: type[Model], text: str) -> Model:
    """A file's text as its model; no fault may be in it."""
    tree, faults = read_yaml(text, "trial.yaml")
    made, told = validate(model, tree)
    assert not faults
    assert made is not None, [str(fault) for fault in told]
    return made


def faults_of(kit: str, *procedures: str) -> list[str]:
    """What is wrong between a kit and procedures."""
    tree, _ = read_yaml(kit, "kit.yaml")
    trees = {f"p{n}.yaml": read_yaml(text, f"p{n}.yaml")[0] for n, text in enumerate(procedures)}
    return [
        str(fault) for fault in (*kit_faults(tree), *procedure_faults({"kit.yaml": tree}, trees))
    ]


def listed_from(procedure: str, kit: str = KIT, clocks: dict[str, float] | None = None) -> Listed:
    """A procedure made exact, from texts."""
    sheet, of = read(ProcedureSheet, procedure), read(Kit, kit)
    return listed(sheet.code, {sheet.code: sheet}, {of.code: of}, clocks)


@cache
def dress() -> Listed:
    """The trial dressing."""
    return listed_from(DRESS)


@cache
def two() -> Listed:
    """Two wearers who dress each other."""
    return listed_from(TWO)
