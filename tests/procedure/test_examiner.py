"""A procedure examined: what is claimed, what each story tells, and what is advised."""

# ruff: noqa: E501
from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from small_kit import DRESS, KIT, dress, listed_from, two

from neckring.procedure.asked import Asked
from neckring.procedure.examination import Examination, SlipStory
from neckring.procedure.examiner import examine
from neckring.procedure.findings import Verdict
from neckring.procedure.slip_search import all_singles
from neckring.procedure.slips import Outcome

FELT = "  - {who: A, check: air_felt, how: own safety}\n"
CARELESS = DRESS.replace(FELT, "")


def examined(procedure: str, kit: str = KIT) -> Examination:
    return examine(listed_from(procedure, kit))


def harmful(found: Examination) -> list[SlipStory]:
    return [story for story in found.stories if story.outcome is Outcome.HARM]


def test_a_sound_procedure_is_proved_on_every_question() -> None:
    found = examine(dress())
    assert found.verdict is Verdict.PROVED
    assert {claim.verdict for claim in found.claims} == {Verdict.PROVED}
    assert len(found.claims) == 5
    assert harmful(found) == []
    assert found.advised == ()
    assert found.total_risk is None


def test_counts_are_those_of_every_single_slip() -> None:
    found = examine(two())
    singles = all_singles(two().procedure)
    assert found.singles.total == len(singles) == sum(found.singles.outcomes.values())
    for outcome in Outcome:
        assert found.singles.outcomes[outcome] == sum(s.outcome is outcome for s in singles)
        by_kind = (counts[outcome] for counts in found.singles.by_kind.values())
        assert sum(by_kind) == found.singles.outcomes[outcome]
    assert found.pairs is not None
    assert found.pairs.total > found.singles.total


def test_without_its_check_the_missing_air_is_told_and_the_check_is_advised() -> None:
    # Given a dressing in which nobody asks whether air is felt,
    found = examined(CARELESS)
    assert found.verdict is Verdict.BROKEN
    # when the blower is not started,
    story = next(s for s in harmful(found) if s.words.startswith("step 1 left out"))
    # then the story says what happens, when, to whom, and who could have noticed,
    assert story.rule in ("no_air", "stale")
    assert "start the blower" in story.sentence
    assert "no air moves" in story.sentence or "without moving air" in story.sentence
    assert "feel air on the face" in story.sentence
    assert story.cause == ("the blower",)
    assert story.trace[0].differences[0].thing == "the blower"
    assert (story.trace[0].differences[0].nominal, story.trace[0].differences[0].slipped) == (
        "on",
        "off",
    )
    assert story.risk is not None
    assert "1 in" in story.risk.words
    # and one check of felt air is enough, and has been proved to be.
    assert found.advised[0].proved
    assert found.advised[-1].left == 0
    assert {check.sign for check in found.advised[-1].checks} <= {"air_felt", "hose_home"}


def test_advice_tells_what_is_left_when_the_checks_are_really_in() -> None:
    # Given the advice for a careless procedure,
    advised = examined(CARELESS).advised[-1]
    # when its checks are written into the file, each after the step that it names,
    lines = CARELESS.split("steps:\n")[1].splitlines()
    for check in sorted(advised.checks, key=lambda c: -c.after_step):
        lines.insert(check.after_step, f"  - {{who: {check.who}, on: A, check: {check.sign}}}")
    mended = f"{CARELESS.split('steps:')[0]}steps:\n" + "\n".join(lines) + "\n"
    # then that many slips do harm.
    assert len(harmful(examined(mended))) == advised.left


def test_what_the_lead_accepts_is_set_aside_and_still_told() -> None:
    found = examined(CARELESS)
    signed = "accepted:\n" + "".join(
        f"  - {{step: {s.step}, slip: {s.kind}, rule: {s.rule}, why: it is only a trial, by: lead, date: 2026-11-25}}\n"
        for s in harmful(found)
    )
    again = examined(CARELESS + signed)
    assert again.verdict is Verdict.PROVED
    assert all("only a trial" in story.accepted for story in harmful(again))
    assert len(harmful(again)) == len(harmful(found))
    assert any("accepted" in claim.words for claim in again.claims)


def test_a_procedure_that_does_not_run_is_broken_and_its_slips_not_decided() -> None:
    found = examined(DRESS.replace("  - {who: tender, move: start_blower}\n", ""))
    verdicts = {claim.question: claim.verdict for claim in found.claims}
    assert found.verdict is Verdict.BROKEN
    assert list(verdicts.values()).count(Verdict.NOT_DECIDED) == 2
    assert "fails" in found.claims[0].words


def test_a_hidden_slip_is_told_although_no_rule_breaks() -> None:
    # Given gloves that somebody may forget,
    found = examined(DRESS + "  - {who: A, move: don_gloves}\n")
    latent = [story for story in found.stories if story.outcome is Outcome.LATENT]
    assert any("the gloves is off, not on" in story.sentence for story in latent)


def test_a_step_says_how_fast_relief_is_from_there() -> None:
    found = examine(dress())
    last = found.steps[-1]
    names = dict(zip(found.relief, last.ways, strict=True))
    out = names["out of the suit, with a tender"]
    assert out is not None
    assert out.duration.likely == 5.0
    assert out.acts[0].startswith("lift_helmet on A")
    assert found.steps[2].caught_here > 0


def test_less_may_be_asked() -> None:
    found = examine(dress(), Asked(pairs=False, ways=False))
    assert found.pairs is None
    assert found.ways == ()
    assert found.verdict is Verdict.PROVED


@pytest.mark.parametrize("library", ["", "autoref"])
def test_the_answer_does_not_depend_on_the_library_of_diagrams(library: str) -> None:
    found = examine(two(), Asked(library=library))
    assert found.verdict is examine(two()).verdict
    assert [w.states for w in found.ways] == [w.states for w in examine(two()).ways]
