"""A procedure in every order that its lanes allow."""

# ruff: noqa: E501
from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from small_kit import DRESS, TWO, dress, listed_from, two

from neckring.procedure import reference, symbolic
from neckring.procedure.findings import Verdict
from neckring.procedure.interleaving import STUCK, every_order
from neckring.procedure.listing import Listed


def both(made: Listed, slips: int = 0, breakdowns: int = 0) -> Verdict:
    """The answer of two engines, which must be one."""
    model = every_order(made.procedure, slips, breakdowns)
    oracle, diagrams = reference.prove(model), symbolic.prove(model)
    assert oracle.verdict == diagrams.verdict
    if oracle.broken is not None and diagrams.broken is not None:
        assert len(oracle.broken.trace) == len(diagrams.broken.trace)
    else:
        assert oracle.states == diagrams.states
    return oracle.verdict


def test_lanes_that_meet_are_proved_in_every_order() -> None:
    assert both(dress()) is Verdict.PROVED
    assert both(two()) is Verdict.PROVED


def test_without_the_meeting_somebody_is_too_early() -> None:
    # Given two who no longer wait for each other before the helmets,
    loose = listed_from(TWO.replace("  - {meet: [A, B, tender]}\n", "").replace(
        "is seated and B.helmet is seated", "is seated"
    ).replace("  - {who: B, on: A, move: seat_helmet}", "  - {who: tender, move: seat_helmet}\n  - {who: tender, move: lock_helmet}"))  # fmt: skip
    # then in some order the helmet is locked before the hose is joined.
    model = every_order(loose.procedure)
    proof = reference.prove(model)
    assert proof.broken is not None
    assert model.rules[proof.broken.rule].name == "no_air of A"
    assert both(loose) is Verdict.BROKEN


def test_a_step_that_nobody_can_do_leaves_everybody_stuck() -> None:
    stuck = listed_from(DRESS.replace("  - {who: tender, move: seat_helmet, say: Helmet coming, answer: Ready for the helmet}\n", ""))  # fmt: skip
    model = every_order(stuck.procedure)
    proof = reference.prove(model)
    assert proof.broken is not None
    assert model.rules[proof.broken.rule].name == STUCK


@pytest.mark.parametrize(("slips", "breakdowns"), [(1, 0), (0, 1), (1, 1), (2, 0)])
def test_engines_agree_on_slips_in_every_order(slips: int, breakdowns: int) -> None:
    for made in (dress(), two()):
        both(made, slips, breakdowns)


def test_a_check_before_the_helmet_keeps_one_slip_from_harm_and_not_two() -> None:
    # Given air that is felt before the helmet is seated,
    assert both(dress(), slips=1) is Verdict.PROVED
    # then it takes two slips: no air, and a check left out.
    assert both(dress(), slips=2) is Verdict.BROKEN
    # And without the checks one is enough.
    careless = "\n".join(line for line in DRESS.splitlines() if "check" not in line)
    assert both(listed_from(careless), slips=1) is Verdict.BROKEN


def test_more_slips_reach_more() -> None:
    counts = [reference.prove(every_order(two().procedure, n)).states for n in (0, 1)]
    assert counts[0] < counts[1]
