"""What becomes possible when a step is left out or moved, asked from the present state."""

from __future__ import annotations

from dataclasses import replace

import pytest
from demo_day import LEAD, TENDER, Day

from neckring.live import ways_left
from neckring.live.consequences import NOTHING_WORSE
from neckring.live.entries import Kind
from neckring.live.rest_of_day import rest_of_day, still_to_do
from neckring.live.run_records import Done
from neckring.live.ways_left import WANTED, lost_way, ways_of
from neckring.procedure.model import Action, Condition, State, after, holds
from neckring.procedure.slip_oracle import sequence
from neckring.procedure.slips import Deviation, Outcome, SlipKind
from neckring.procedure.steps import StepKind
from neckring.procedure.way_out import Company, Goal


def at(code: str, number: int = 1) -> Day:
    """The demo's day at a step of a procedure."""
    day = Day().opened()
    for before in day.sheet.order[: day.sheet.order.index(code)]:
        day.whole(before)
    return day.begin(code).upto(number)


def number_of(day: Day, words: str) -> int:
    procedure = day.sheet.procedures[day.state.procedure]
    return next(step.number for step in procedure.steps if step.exact.name == words)


CHANGEOVER = at("changeover", 44)
WAY = at("return")


def test_a_gauge_not_read_lets_a_slip_do_harm() -> None:
    # Given the changeover at the closing of the wall valves
    day = CHANGEOVER
    gauge = number_of(day, "wall_water_off of A")
    # When the water gauge of A would not be read
    possible = day.desk.ask(gauge)
    assert possible is not None
    # Then a valve left open is noticed by nobody before the line is parted
    assert not possible.grave
    assert possible.harmful >= 1
    assert "close the wall water valve, wearer A" in possible.shortest
    assert "The wall water valve is open and a water line is loose" in possible.shown
    # And plain Python, which knows nothing of the search, says the same of that slip
    numbers = still_to_do(day.state, "changeover")
    valve = number_of(day, "close_water_valve on A by tender")
    for left, outcome in (
        (numbers, Outcome.CAUGHT),
        (tuple(n for n in numbers if n != gauge), Outcome.HARM),
    ):
        rest = rest_of_day(day.sheet, day.state.kit, left, "changeover")
        slip = Deviation(left.index(valve), SlipKind.OMIT)
        found = sequence(rest.exact, [slip])
        assert found is not None
        assert found.outcome is outcome


def test_a_move_left_out_stops_the_rest_where_its_sign_is_looked_for() -> None:
    day = CHANGEOVER
    possible = day.desk.ask(number_of(day, "close_water_valve on A by tender"))
    assert possible is not None
    assert "wall water gauge" in possible.stops
    assert "does not find its sign" in possible.stops
    assert possible.unsure


def test_a_rule_that_breaks_without_any_slip_needs_the_lead_s_word() -> None:
    # Given that the water gauges were left out already, and nobody read them
    day = at("changeover", 50)
    for words in ("wall_water_off of A", "wall_water_off of B"):
        leave_out(day, number_of(day, words))
    # When the valve of A would stay open as well
    valve = number_of(day, "close_water_valve on A by tender")
    possible = day.desk.ask(valve)
    assert possible is not None
    assert possible.grave
    assert "A RULE BREAKS although nobody slips" in possible.shown
    assert "the cold line" in possible.breaks
    # Then it is refused, unless the lead says explicitly that it counts
    body = {"procedure": "changeover", "step": valve, "reason": "stuck", "shown": possible.shown}
    assert "Only the lead can accept" in day.refused(LEAD, Kind.STEP_LEFT_OUT, **body)
    day.does(LEAD, Kind.STEP_LEFT_OUT, **body, accepts=True)
    assert day.book.written[-1].deed.body["shown"] == possible.shown
    # And the step that would break the rule is refused when its turn comes
    day.upto(57)
    part = day.next()
    assert part is not None
    assert part.exact.name == "part_cold_line on A by tender"
    assert "a rule would break" in day.refused(TENDER, Kind.STEP_DONE, **day.step_body(part))


def leave_out(day: Day, number: int, **more: bool) -> None:
    possible = day.desk.ask(number)
    assert possible is not None
    day.does(
        LEAD,
        Kind.STEP_LEFT_OUT,
        procedure=day.state.procedure,
        step=number,
        reason="gauge broken",
        shown=possible.shown,
        **more,
    )


def test_an_answer_that_nobody_has_seen_is_not_taken() -> None:
    day = at("dress", 3)
    body = {"procedure": "dress", "step": 3, "reason": "no tablet"}
    assert "shown is missing" in day.refused(LEAD, Kind.STEP_LEFT_OUT, **body)
    why = day.refused(LEAD, Kind.STEP_LEFT_OUT, **body, shown="all is well")
    assert "has changed since it was shown" in why
    assert NOTHING_WORSE in why
    assert "for the lead" in day.refused(TENDER, Kind.STEP_LEFT_OUT, **body, shown=NOTHING_WORSE)
    day.does(LEAD, Kind.STEP_LEFT_OUT, **body, shown=NOTHING_WORSE)
    assert day.state.progress["dress"].of(3).status is Done.LEFT_OUT
    # What is past cannot be asked for
    assert day.desk.ask(3) is None
    assert day.desk.ask(1) is None
    assert day.desk.ask(900) is None


def test_what_was_recorded_changes_the_answer() -> None:
    # Given one of two looks at the lid left out
    day = at("changeover", 9)
    lid = number_of(day, "lid_flush of B")
    before = day.desk.ask(lid)
    assert before is not None
    assert before.harmful == 1
    # When the lid is closed for certain, then the slip cannot happen any more
    day.upto(10)
    after = day.desk.ask(lid)
    assert after is not None
    assert after.harmful == 0


def test_a_step_moved_is_judged_and_then_counts() -> None:
    # Given two checks of the tender that may change places
    day = at("dress", 3)
    possible = day.desk.ask(4, 3)
    assert possible is not None
    body = {"procedure": "dress", "step": 4, "before": 3, "reason": "B is ready first"}
    day.does(LEAD, Kind.STEP_MOVED, **body, shown=possible.shown)
    assert day.state.progress["dress"].order[:4] == (1, 2, 4, 3)
    step = day.next()
    assert step is not None
    assert step.number == 4
    assert "already" in day.refused(LEAD, Kind.STEP_MOVED, **body, shown=possible.shown)
    # And a move before what it needs is named
    part = day.desk.ask(39, 30)
    assert part is not None
    assert "step 39 of dress" in part.stops.lower()


def test_a_meeting_left_out_is_judged_in_every_order_of_the_lanes() -> None:
    # Given the meeting before the boots are put on, by B whose hands must be free
    day = at("dress", 3)
    meets = [
        step.number
        for step in day.sheet.procedures["dress"].steps
        if step.kind is StepKind.MEET and step.number > 5
    ]
    said = [possible for number in meets[:5] if (possible := day.desk.ask(number)) is not None]
    # Then some meeting cannot be left out without somebody getting stuck in some order
    assert any("IN SOME ORDER" in possible.shown for possible in said)
    assert any(possible.shown == NOTHING_WORSE for possible in said)


def test_a_way_out_that_is_lost_is_told_and_by_whom(monkeypatch: pytest.MonkeyPatch) -> None:
    # Given A, sealed in on the pack, outside
    day = WAY
    numbers, variables = day.sheet.ground.numbers, day.sheet.ground.variables
    rest = rest_of_day(day.sheet, day.state.kit, still_to_do(day.state, "return"), "return")
    first = rest.upto(1)
    place = first.exact.steps[0].number
    # When a way that is there is taken from what is known of the kit
    known = ways_of(day.sheet, "A")
    asked = (Goal.FRESH_AIR, Company.TENDER)
    assert asked not in known.missing(day.state.kit)
    shut = list(day.state.kit)
    shut[numbers["A.fan_one"]] = variables[numbers["A.fan_one"]].states.index("failed")
    only_here = known.ways.diagrams.one(day.state.kit)
    poorer = replace(known, from_where={**known.from_where, asked: only_here})
    # Then it is missing in every other state, and in no other company
    assert poorer.missing(day.state.kit) == known.missing(day.state.kit)
    assert poorer.missing(tuple(shut)) - known.missing(tuple(shut)) == {asked}
    # And it is told with the step and the wearer; where nothing stands otherwise, nothing is
    monkeypatch.setattr(
        ways_left, "ways_of", lambda _sheet, letter: {"A": poorer}.get(letter, known)
    )
    here, there = {place: day.state.kit}, {place: tuple(shut)}
    told = lost_way(day.sheet, here, there, first)
    assert told.startswith("A WAY OUT IS LOST: after step 1 of return wearer A does not get fresh")
    assert "with a tender" in told
    assert lost_way(day.sheet, here, here, first) == ""


def test_ways_out_are_those_that_a_search_step_by_step_finds() -> None:
    # Given one wearer's acts of fresh air, from the state in which both walk outside
    day = WAY
    ways = ways_of(day.sheet, "A")
    for goal, company in WANTED:
        wanted = day.sheet.ground.kit.relief.fresh_air
        if goal is not Goal.FRESH_AIR or wanted is None:
            continue
        # When plain Python tries everything within three acts
        there = day.sheet.ground.condition(wanted, "A")
        found = within(ways.ways.acts(company), there, day.state.kit, 3)
        # Then what it finds, the decision diagrams know of
        if found:
            assert (goal, company) not in ways.missing(day.state.kit)


def within(acts: tuple[Action, ...], wanted: Condition, state: State, most: int) -> bool:
    """Whether a condition is reached within so many acts."""
    known, layer = {state}, {state}
    for _ in range(most + 1):
        if any(holds(wanted, each) for each in layer):
            return True
        layer = {
            after(act, each) for each in layer for act in acts if holds(act.guard, each)
        } - known
        known |= layer
    return False


def test_asking_changes_nothing() -> None:
    day = at("dress", 3)
    before = day.state
    day.desk.ask(20)
    day.desk.ask(20, 10)
    assert day.state == before
    assert replace(day.state) == before
