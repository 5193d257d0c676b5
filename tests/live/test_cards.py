"""Emergency cards: one touch opens them, for either wearer, each with its own timer."""

from __future__ import annotations

from dataclasses import replace

import pytest
from demo_day import MEDIC, TENDER, TRAINER, Day, demo, sheet

from neckring.live.cards import failures_of, offered_cards, open_cards
from neckring.live.entries import Json, Kind
from neckring.live.run_records import EstimateNow
from neckring.live.sheet_steps import other_letters, state_with
from neckring.procedure.model import holds


def test_the_cards_stand_in_the_order_of_the_station() -> None:
    console = demo().station.console
    assert console is not None
    assert tuple(card.code for card in offered_cards(sheet())) == console.cards
    assert all(card.when for card in offered_cards(sheet()))


def test_anybody_opens_a_card_and_does_its_steps_in_whatever_order() -> None:
    day = Day().opened().begin("dress")
    day.hands.pass_time(10.0)
    day.does(TRAINER, Kind.CARD_OPENED, card="air-lost", wearer="A")
    day.hands.pass_time(7.0)
    day.does(TENDER, Kind.CARD_STEP_DONE, card="air-lost", wearer="A", step=1)
    day.does(MEDIC, Kind.CARD_STEP_DONE, card="air-lost", wearer="A", step=3)
    (card,) = open_cards(day.state, day.sheet, day.desk.clock.run_time() + 5.0)
    # Then its own timer runs, and each step says when it was done
    assert (card.elapsed, card.by) == (12.0, TRAINER)
    assert [one.done for one in card.steps[:3]] == [7.0, None, 7.0]
    assert card.next is not None
    assert card.next.number == 2
    assert "done already" in day.refused(
        TENDER, Kind.CARD_STEP_DONE, card="air-lost", wearer="A", step=1
    )
    assert "open already" in day.refused(TENDER, Kind.CARD_OPENED, card="air-lost", wearer="A")
    assert "no step 99" in day.refused(
        TENDER, Kind.CARD_STEP_DONE, card="air-lost", wearer="A", step=99
    )
    assert "there are" in day.refused(TENDER, Kind.CARD_OPENED, card="flood", wearer="A")
    # And the same card may be open for the other one too
    day.does(TENDER, Kind.CARD_OPENED, card="air-lost", wearer="B")
    day.does(MEDIC, Kind.CARD_CLOSED, card="air-lost", wearer="A", reason="air is back")
    assert [one.wearer for one in open_cards(day.state, day.sheet, 20.0)] == ["B"]


@pytest.mark.parametrize("code", [card.code for card in offered_cards(sheet())])
def test_a_card_for_b_leads_where_it_leads_for_a_with_both_changed_over(code: str) -> None:
    # Given a card and its turned twin
    one, other = sheet().cards[code, "A"], sheet().cards[code, "B"]
    numbers = sheet().ground.numbers

    def turned(state: tuple[int, ...]) -> tuple[int, ...]:
        names = [v.name for v in sheet().ground.variables]
        swap = {"A": "B", "B": "A"}
        return tuple(state[numbers[f"{swap[n[0]]}{n[1:]}" if n[1:2] == "." else n]] for n in names)

    # When both are carried out, the twin from the turned state
    state = one.listed.procedure.model.start
    twin = turned(state)
    for step, mirrored in zip(one.steps, other.steps, strict=True):
        assert holds(mirrored.exact.guard, twin) == holds(step.exact.guard, state)
        state, twin = (
            state_with(state, step.exact.effects),
            state_with(twin, mirrored.exact.effects),
        )
        # Then each state is the other one turned
        assert twin == turned(state)
    assert holds(one.ends, state)
    assert holds(other.ends, twin)


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("A, the door is open.", "B, the door is open."),
        ("Bay, air lost at A, both visors open.", "Bay, air lost at B, both visors open."),
        ("a hand lies on the arm of A", "a hand lies on the arm of B"),
        ("A hand lies on the arm of A.", "A hand lies on the arm of B."),
        ("A is through the door", "B is through the door"),
        ("A on the radio, I feel well.", "B on the radio, I feel well."),
        ("Stop. A second helper comes to B.", "Stop. A second helper comes to A."),
        ("A and B walk in", "B and A walk in"),
        ("16.2 V at BAY", "16.2 V at BAY"),
        ("B, visor of A?", "A, visor of B?"),
    ],
)
def test_letters_are_changed_over_and_articles_stay(written: str, read: str) -> None:
    assert other_letters(written) == read


def test_a_card_s_effects_count_for_the_wearer_in_trouble() -> None:
    day = Day().opened()
    for code in ("dress", "changeover", "go"):
        day.whole(code)
    visor = {letter: day.sheet.ground.numbers[f"{letter}.visor"] for letter in "AB"}
    shut = day.state.kit[visor["A"]]
    day.does(TENDER, Kind.CARD_OPENED, card="air-lost", wearer="B")
    day.does(TENDER, Kind.CARD_STEP_DONE, card="air-lost", wearer="B", step=1)
    assert day.state.kit[visor["B"]] != shut
    assert day.state.kit[visor["A"]] == shut
    # And the helmet's clock of B has ended by it
    assert day.state.clocks["helmet", "B"].ended is not None
    assert day.state.clocks["helmet", "A"].ended is None


def test_a_card_shows_how_long_help_takes_where_an_estimate_knows() -> None:
    day = Day().opened().begin("dress")
    day.does(TENDER, Kind.CARD_OPENED, card="air-lost", wearer="A")
    (card,) = open_cards(day.state, day.sheet, 1.0)
    assert card.help is None
    # The card begins where both fans have failed, which a plan calls fans
    assert set(failures_of(demo().procedures["air-lost"], day.sheet.ground)) == {"fans"}
    body: dict[str, Json] = {
        "wearer": "A",
        "failures": [
            {"code": "pump", "help": {"low": 1.0, "high": 2.0}},
            {"code": "fans", "help": {"low": 4.0, "high": 9.0}},
        ],
    }
    state = replace(day.state, estimates={"A": EstimateNow(body, 1.0)})
    (card,) = open_cards(state, day.sheet, 2.0)
    assert card.help == 9.0
