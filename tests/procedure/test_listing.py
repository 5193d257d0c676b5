"""From files to exact steps: owners, doers, mistakes that may be made, and what is refused."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from small_kit import DRESS, KIT, TWO, dress, faults_of, listed_from, two

from neckring.procedure.listing import end_of
from neckring.procedure.model import holds
from neckring.procedure.steps import StepKind


def test_each_wearer_has_every_thing_and_all_share_the_blower() -> None:
    names = [variable.name for variable in two().ground.variables]
    assert names == [
        *(f"A.{thing}" for thing in ("helmet", "hose", "fan", "gloves")),
        *(f"B.{thing}" for thing in ("helmet", "hose", "fan", "gloves")),
        "blower",
    ]


def test_a_move_is_done_by_everybody_who_can_to_everybody() -> None:
    doings = [doing.name for doing in two().ground.doings()]
    joins = [name for name in doings if name.startswith("join_hose")]
    assert joins == [
        "join_hose on A by A", "join_hose on A by B", "join_hose on A by tender",
        "join_hose on B by B", "join_hose on B by A", "join_hose on B by tender",
    ]  # fmt: skip
    # and without a partner nobody is one.
    assert all("by B" not in doing.name for doing in dress().ground.doings())


def test_a_wearer_who_acts_needs_free_hands_and_a_tender_does_not() -> None:
    ground = two().ground
    model = ground.model(disciplined=False)
    gloved = list(model.start)
    gloved[ground.numbers["B.gloves"]] = 1
    can = {action.name for action in model.actions if holds(action.guard, gloved)}
    assert "join_hose on A by A" in can
    assert "join_hose on A by tender" in can
    assert "join_hose on A by B" not in can


def test_the_steps_run_as_written() -> None:
    for one in (dress(), two()):
        assert holds(one.procedure.ends, end_of(one.procedure))
    kinds = [step.kind for step in dress().procedure.steps]
    assert kinds.count(StepKind.MEET) == 2
    assert dress().procedure.lanes == ("A", "tender")


def test_what_may_be_taken_by_mistake_is_of_the_same_kind_and_by_the_same_hands() -> None:
    others = [other.name for other in dress().procedure.steps[1].others]
    assert others == ["part_hose on A by tender"]
    others = [other.name for other in two().procedure.steps[1].others]
    assert others == ["join_hose on A by A"]


def test_a_clock_of_a_plan_shortens_what_is_written_and_never_lengthens_it() -> None:
    def longest(clocks: dict[str, float]) -> float:
        return listed_from(DRESS, clocks=clocks).procedure.timed[0].longest

    assert longest({}) == 20.0
    assert longest({"fans": 12.0}) == 12.0
    assert longest({"fans": 90.0}) == 20.0


def test_a_procedure_begins_where_the_one_before_it_ends() -> None:
    from small_kit import read

    from neckring.procedure.listing import listed
    from neckring.station.kit import Kit
    from neckring.station.procedure_sheet import ProcedureSheet

    later = """
code: later
title: After dressing
kit: trial
after: dress
begins: {A.fan: failed}
ends: A.helmet is off
steps: [{who: tender, move: lift_helmet}]
"""
    sheets = {s.code: s for s in (read(ProcedureSheet, DRESS), read(ProcedureSheet, later))}
    made = listed("later", sheets, {"trial": read(Kit, KIT)})
    start, numbers = made.procedure.model.start, made.ground.numbers
    before = list(end_of(dress().procedure))
    before[numbers["A.fan"]] = 2
    assert list(start) == before


# One thing spoilt in a file, and the words that the message must hold.
SPOILT = {
    "unknown thing": (KIT, "needs: fan is off", "needs: fann is off", 'read "fann"'),
    "unknown state": (KIT, "needs: fan is off", "needs: fan is of", 'read "of"'),
    "unknown condition": (KIT, "only_if: air_moving", "only_if: air_movin", "air_moving"),
    "a thing without its state": (KIT, "only_if: air_moving", "only_if: fan", '"fan is off"'),
    "a wearer's name in a kit": (KIT, "needs: fan is off", "needs: A.fan is off", "partner.fan"),
    "a partner's blower": (KIT, "needs: blower is off", "needs: partner.blower is off", "blower"),
    "unknown thing changed": (KIT, "changes: {fan: on}", "changes: {fn: on}", 'read "fn"'),
    "unknown state given": (KIT, "changes: {fan: on}", "changes: {fan: onn}", 'read "onn"'),
    "a sign that is not there": (KIT, "shows: air_felt", "shows: air_fel", "air_felt"),
    "two things of one name": (KIT, "words: the fan,", "words: the  Hose,", "no other"),
    "a condition that needs itself": (
        KIT, "or fan is on", "or air_moving", "does not need itself",
    ),
    "unknown move": (DRESS, "move: lock_helmet", "move: lock_helmt", "lock_helmet"),
    "unknown sign": (DRESS, "check: air_felt", "check: air_flt", "air_felt"),
    "somebody who cannot": (DRESS, "who: tender, move: lock", "who: A, move: lock", "tender"),
    "a wearer who is not there": (DRESS, "{who: A, check", "{who: B, check", "one wearer"),
    "a thing of nobody": (DRESS, "A.hose is home", "hose is home", "A.hose"),
    "another kit": (DRESS, "kit: trial", "kit: trail", "trial"),
}  # fmt: skip


@pytest.mark.parametrize("name", SPOILT)
def test_what_is_wrong_between_files_is_told_where_it_stands(name: str) -> None:
    text, old, new, said = SPOILT[name]
    assert old in text
    kit, procedure = (
        (KIT.replace(old, new, 1), DRESS) if text is KIT else (KIT, text.replace(old, new, 1))
    )
    assert faults_of(KIT, DRESS, TWO) == []
    faults = faults_of(kit, procedure)
    assert faults
    assert any(said in fault for fault in faults), faults
    # and the place is that of the word.
    file, line, column = faults[0].split(":")[:3]
    lines = (kit if file == "kit.yaml" else procedure).splitlines()
    wrong = faults[0].split('read "')[1].split('"')[0]
    assert lines[int(line) - 1][int(column) - 1 :].startswith(wrong)


def test_procedures_that_begin_after_each_other_are_told() -> None:
    first = DRESS.replace("kit: trial", "kit: trial\nafter: two")
    second = TWO.replace("kit: trial", "kit: trial\nafter: dress")
    said = faults_of(KIT, first, second)
    assert any("does not itself begin after this one" in fault for fault in said)
