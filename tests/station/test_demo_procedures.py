"""The demo's kit and procedures run, keep their rules, and need their checks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path

import pytest

from neckring.procedure import explicit, symbolic
from neckring.procedure.diagrams import Diagrams
from neckring.procedure.findings import Proof, Verdict
from neckring.procedure.grounding import GroundKit, ground
from neckring.procedure.interleaving import every_order
from neckring.procedure.listing import Listed, listed
from neckring.procedure.model import Action, Model, State, after, holds
from neckring.procedure.slip_endings import Found
from neckring.procedure.slip_oracle import nominal
from neckring.procedure.slip_search import all_singles
from neckring.procedure.slips import Outcome
from neckring.procedure.steps import Procedure, Step, StepKind
from neckring.procedure.stories import WRITTEN
from neckring.procedure.wording import kit_findings, procedure_findings
from neckring.station.kit import Kit
from neckring.station.loading import LoadedStation, load_station

DEMO = Path(str(files("neckring.station"))) / "demo"
DAY = ("dress", "changeover", "go", "return", "undress")
EMERGENCIES = ("air-lost", "water-lost", "wearer-down", "fire-in-pack", "umbilical-snagged")
EVERY = (*DAY, *EMERGENCIES)
MANY = 25_000_000


@cache
def demo() -> LoadedStation:
    return load_station(DEMO)


def kit() -> Kit:
    return demo().kits["dipper"]


@cache
def of(code: str) -> Listed:
    return listed(code, demo().procedures, demo().kits)


def rule_of(procedure: Procedure, number: int | None) -> str:
    assert number is not None
    return procedure.rule_names[number].partition(" of ")[0]


def harmful(procedure: Procedure) -> list[Found]:
    return [each for each in all_singles(procedure) if each.outcome is Outcome.HARM]


def changed(procedure: Procedure, step: Callable[[Step], Step | None]) -> Procedure:
    """The same procedure with steps replaced, or left out where nothing replaces them."""
    found = tuple(s for old in procedure.steps if (s := step(old)) is not None)
    return replace(procedure, steps=found)


def without(procedure: Procedure, *names: str) -> Procedure:
    """The same without the steps that do or look at something, by whomever and on whomever."""
    return changed(procedure, lambda s: None if s.name.partition(" o")[0] in names else s)


# The files


def test_the_demo_has_a_day_and_its_emergencies() -> None:
    assert set(demo().procedures) == set(EVERY)
    chain = [demo().procedures[code].after for code in DAY]
    assert chain == [None, *DAY[:-1]]
    for code in EMERGENCIES:
        assert demo().procedures[code].when is not None


@pytest.mark.parametrize("file", sorted(DEMO.glob("kits/*")) + sorted(DEMO.glob("procedures/*")))
def test_every_file_says_first_that_it_is_invented(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    assert text.startswith("# invented\n")
    assert "demo data, invented" in text.lower()


def test_the_kit_keeps_to_the_rules_of_wording() -> None:
    assert not list(kit_findings(kit()))


@pytest.mark.parametrize("code", EVERY)
def test_every_procedure_keeps_to_the_rules_of_wording(code: str) -> None:
    assert not procedure_findings(demo().procedures[code], kit())


@pytest.mark.parametrize("code", EVERY)
def test_every_check_has_a_call_an_answer_and_what_to_do_if_not(code: str) -> None:
    for step in demo().procedures[code].steps:
        if step.check is not None:
            assert step.say
            assert step.answer
            assert step.if_not


# What was written runs, as the team keeps to it


@pytest.mark.parametrize("code", EVERY)
def test_every_procedure_runs_as_written_to_its_end(code: str) -> None:
    procedure = of(code).procedure
    found = nominal(procedure)
    assert found.outcome is Outcome.HARMLESS
    assert not holds(procedure.ends, procedure.model.start)
    assert holds(procedure.ends, found.end)


@pytest.mark.parametrize("code", EVERY)
def test_every_step_as_written_keeps_to_the_discipline_of_the_team(code: str) -> None:
    # Given what the team keeps to
    disciplined = {action.name: action for action in of(code).ground.model(True).actions}
    # When a procedure is gone through as written
    state: State = of(code).procedure.model.start
    for step in of(code).procedure.steps:
        # Then no step goes against it
        if step.kind is StepKind.MOVE:
            assert holds(disciplined[step.name].guard, state), step.number
        state = after(Action(step.name, step.guard, step.effects), state)


@pytest.mark.parametrize("code", EVERY)
def test_every_order_that_the_lanes_allow_keeps_the_rules(code: str) -> None:
    assert explicit.prove(every_order(of(code).procedure)).verdict is Verdict.PROVED


# The kit


@cache
def disciplined_proof(library: str) -> Proof:
    return symbolic.prove(ground(kit(), 1).model(disciplined=True), library=library)


def test_with_discipline_no_rule_breaks_in_very_many_states() -> None:
    found = disciplined_proof("")
    assert found.verdict is Verdict.PROVED
    assert found.states >= MANY


@pytest.mark.soak
def test_the_plain_library_proves_the_same() -> None:
    assert disciplined_proof("autoref") == disciplined_proof("")


@pytest.mark.parametrize("code", DAY)
def test_with_discipline_work_can_go_on(code: str) -> None:
    # Given one wearer, and how all of A's is at the end of a procedure
    one = ground(kit(), 1)
    model = one.model(disciplined=True)
    end, both = nominal(of(code).procedure).end, of(code).procedure.model
    wanted = tuple(end[both.numbers[variable.name]] for variable in model.variables)
    # Then A alone gets to the same state by disciplined moves
    diagrams = Diagrams(model)
    reached = diagrams.reached(diagrams.initial, model.actions)
    assert diagrams.has(reached, wanted)


def test_without_discipline_rules_break_at_once() -> None:
    found = symbolic.prove(ground(kit(), 1).model(disciplined=False))
    assert found.verdict is Verdict.BROKEN
    assert found.broken is not None
    assert len(found.broken.trace) <= 3


@cache
def all_that_may_happen() -> tuple[GroundKit, Diagrams, object]:
    """One wearer's kit, whatever people do, half do, and whatever breaks."""
    one = ground(kit(), 1)
    raw: Model = one.model(disciplined=False)
    diagrams = Diagrams(raw)
    actions = (*raw.actions, *one.halves(), *one.breakdowns())
    return one, diagrams, diagrams.reached(diagrams.initial, actions)


@pytest.mark.parametrize("code", sorted(kit().rules))
def test_every_rule_can_break(code: str) -> None:
    one, diagrams, reached = all_that_may_happen()
    bad = diagrams.encode(one.condition(kit().rules[code].never, "A"))
    assert (reached & bad) != diagrams.empty


@pytest.mark.parametrize("code", sorted(kit().moves))
def test_every_move_is_possible_somewhere(code: str) -> None:
    one, diagrams, reached = all_that_may_happen()
    needs = diagrams.encode(one.condition(kit().moves[code].needs, "A"))
    assert (reached & needs) != diagrams.empty


@pytest.mark.parametrize("code", sorted(kit().breakdowns))
def test_every_breakdown_can_happen(code: str) -> None:
    one, diagrams, reached = all_that_may_happen()
    needs = diagrams.encode(one.condition(kit().breakdowns[code].needs, "A"))
    assert (reached & needs) != diagrams.empty


@pytest.mark.parametrize("code", sorted(kit().signs))
def test_every_sign_can_be_there_and_be_missing(code: str) -> None:
    one, diagrams, reached = all_that_may_happen()
    there = diagrams.encode(one.condition(kit().signs[code].when, "A"))
    seen = reached & there  # type: ignore[operator]
    assert seen != diagrams.empty
    assert seen != reached


# Slips


@pytest.mark.parametrize("code", EVERY)
def test_every_single_slip_is_noticed_before_harm_or_signed_for(code: str) -> None:
    procedure = of(code).procedure
    harm = {
        (
            procedure.steps[each.deviation.position].number,
            WRITTEN[each.deviation.kind],
            rule_of(procedure, each.rule),
        )
        for each in harmful(procedure)
    }
    # Then what does harm is exactly what is signed for: nothing open, no signature for nothing
    assert harm == {(a.step, a.slip, a.rule) for a in demo().procedures[code].accepted}


# Sign left out of a procedure, and the rule that a single slip then breaks unnoticed.
NEEDED = [
    ("dress", "air_hose_holds", "live_air_hose"),
    ("dress", "lines_matched", "lines_swapped"),
    ("changeover", "lid_flush", "wet_battery"),
    ("changeover", "wall_air_off", "live_air_hose"),
    ("changeover", "wall_water_off", "live_water_line"),
    ("changeover", "pack_water_stands", "pump_dead_end"),
    ("changeover", "cold_felt", "no_cooling"),
    ("go", "air_felt", "no_air"),
    ("go", "on_floor", "no_spotter"),
    ("go", "radio_heard", "alone_without_voice"),
    ("return", "pump_still", "pump_dead_end"),
    ("return", "lines_matched", "live_water_line"),
    ("return", "air_hose_holds", "live_air_hose"),
    ("undress", "wall_air_off", "live_air_hose"),
    ("undress", "wall_water_off", "live_water_line"),
    ("air-lost", "visor_up", "no_air"),
    ("water-lost", "lines_matched", "lines_swapped"),
    ("wearer-down", "weight_held", "weight_unlatched"),
    ("fire-in-pack", "visor_up", "sealed_without_air"),
]


@pytest.mark.parametrize(("code", "sign", "rule"), NEEDED)
def test_without_a_check_a_single_slip_does_harm(code: str, sign: str, rule: str) -> None:
    # Given a procedure without one of its checks
    procedure = of(code).procedure
    before = {(each.deviation.kind, rule_of(procedure, each.rule)) for each in harmful(procedure)}
    poorer = without(procedure, sign)
    assert len(poorer.steps) < len(procedure.steps)
    # Then some slip does harm that did none
    after_it = {(each.deviation.kind, rule_of(poorer, each.rule)) for each in harmful(poorer)}
    assert rule in {broken for _, broken in after_it - before}


# Procedures written wrongly


def test_a_line_parted_with_its_valve_open_is_caught_and_harms_without_the_gauge() -> None:
    # Given a changeover in which nobody closes the wall water valves
    mutant = without(of("changeover").procedure, "close_water_valve")
    # Then the gauge shows it
    found = nominal(mutant)
    assert found.outcome is Outcome.CAUGHT
    assert found.step is not None
    assert mutant.steps[found.step].name == "wall_water_off of A"
    # And without the gauge a live line is parted
    blind = without(mutant, "wall_water_off")
    found = nominal(blind)
    assert found.outcome is Outcome.HARM
    assert rule_of(blind, found.rule) == "live_water_line"


def crossed(step: Step) -> Step:
    """Joins the cold line of A to the wrong port."""
    if step.name != "join_cold_line on A by tender":
        return step
    actions = {a.name: a for a in of("dress").procedure.model.actions}
    wrong = actions["cross_cold_line on A by tender"]
    return replace(step, name=wrong.name, guard=wrong.guard, effects=wrong.effects, half=None)


def test_swapped_water_lines_are_caught_and_harm_without_a_look_at_the_letters() -> None:
    # Given lines swapped at A
    mutant = changed(of("dress").procedure, crossed)
    # Then B sees it before the valve is opened
    found = nominal(mutant)
    assert found.outcome is Outcome.CAUGHT
    assert found.step is not None
    assert mutant.steps[found.step].name == "lines_matched of A"
    # And without that look water is pressed into the wrong end
    blind = without(mutant, "lines_matched")
    found = nominal(blind)
    assert found.outcome is Outcome.HARM
    assert rule_of(blind, found.rule) == "lines_swapped"


def test_a_visor_shut_without_air_is_caught_and_harms_without_a_question() -> None:
    # Given a changeover in which nobody switches on a fan
    listed_go, fans = of("go"), ("fan_one", "fan_two")
    start = list(listed_go.procedure.model.start)
    for name in fans:
        start[listed_go.ground.numbers[f"A.{name}"]] = 0
    model = listed_go.procedure.model
    variables = tuple(replace(v, start=s) for v, s in zip(model.variables, start, strict=True))
    mutant = replace(listed_go.procedure, model=replace(model, variables=variables))
    # Then the way out ends at a meter
    assert nominal(mutant).outcome is Outcome.CAUGHT
    # And without meters and questions a visor is shut on no air
    blind = without(mutant, "pack_air_flow", "air_felt")
    found = nominal(blind)
    assert found.outcome is Outcome.HARM
    assert rule_of(blind, found.rule) == "sealed_without_air"
