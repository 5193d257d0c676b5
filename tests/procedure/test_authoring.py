"""What a model says to its author."""

# ruff: noqa: E501
from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from small_kit import DRESS, KIT, dress, listed_from, two

from neckring.procedure.authoring import findings

CHECK = "  - {who: tender, check: hose_home}\n"

# One thing spoilt, where it is told, and the words that must be in it.
SPOILT = {
    "a move that no state allows": (
        KIT, "needs: fan is off,", "needs: fan is off and fan is on,",
        ("moves", "start_fan", "needs"), "no state",
    ),
    "a rule that can never break": (
        KIT, "never: helmet is locked and not air_moving", "never: helmet is locked and helmet is off",
        ("rules", "no_air"), "never break",
    ),
    "a check that can never fail": (
        KIT, "when: air_moving", "when: fan is off or not fan is off", ("signs", "air_felt"), "always there",
    ),
    "a check that always fails": (
        KIT, "when: hose is home", "when: hose is home and hose is half", ("signs", "hose_home"), "never there",
    ),
    "a breakdown that cannot happen": (
        KIT, "needs: fan is on, changes", "needs: fan is on and fan is off, changes",
        ("breakdowns", "fan_fails"), "never happen",
    ),
    "a step that changes nothing": (
        DRESS, CHECK, f"{CHECK}  - {{who: tender, move: idle}}\n", ("steps", 3), "changes nothing",
    ),
    "a check of what was just checked": (DRESS, CHECK, CHECK * 2, ("steps", 3), "nothing has changed"),
    "a step that cannot be reached": (
        DRESS, "  - {who: tender, move: start_blower}\n", "", ("steps", 3), "no later step",
    ),
    "an end that is not": (DRESS, "A.helmet is locked and", "A.helmet is off and", ("ends",), "does not end"),
}  # fmt: skip
IDLE = "  idle: {words: leave the fan off, by: [tender], changes: {fan: off}, takes: 1 s}\n"


@pytest.mark.parametrize("name", SPOILT)
def test_what_was_probably_not_meant_is_told(name: str) -> None:
    text, old, new, path, words = SPOILT[name]
    kit, procedure = KIT.replace("signs:\n", f"{IDLE}signs:\n"), DRESS
    assert old in text
    if text is KIT:
        kit = kit.replace(old, new, 1)
    else:
        procedure = procedure.replace(old, new, 1)
    told = findings(listed_from(procedure, kit))
    assert any(f.path == path and words in f.words for f in told), told


def test_a_sound_kit_and_procedure_say_nothing() -> None:
    assert findings(dress()) == ()
    assert findings(two()) == ()


def test_moves_that_wait_for_each_other_are_told_as_a_circle() -> None:
    # Given a helmet that locks only with the gloves on, and gloves that go on only over a lock,
    kit = KIT.replace(
        "needs: helmet is seated,", "needs: helmet is seated and gloves is on,"
    ).replace(
        "needs: gloves is off, changes: {gloves: on}",
        "needs: gloves is off and helmet is locked, changes: {gloves: on}",
    )
    told = {f.path: f for f in findings(listed_from(DRESS, kit)) if f.in_kit}
    hint = told["moves", "lock_helmet", "needs"].hint
    # then the circle is named.
    assert "lock_helmet needs don_gloves needs lock_helmet" in hint
