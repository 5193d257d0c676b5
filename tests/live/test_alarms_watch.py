"""From a real run sheet and a real fold to alarms: the whole way on the demo's own files."""

from __future__ import annotations

from dataclasses import replace

import pytest
from alarm_worlds import DEMO, entry, reading

from neckring.live.alarm_facts import DeskNow
from neckring.live.alarm_watch import AlarmWatch, should_flow
from neckring.live.alarms import Board, changes, judged
from neckring.live.doing import Doing
from neckring.live.drill_plan import fresh_air
from neckring.live.entries import Deed, Kind, Role, Stamp
from neckring.live.kit_says import kit_says
from neckring.live.run_records import CallNow, RunState
from neckring.live.run_sheet import RunSheet, run_sheet
from neckring.live.run_state import first_state, fold_all
from neckring.live.sensors.channels import wire
from neckring.live.sensors.intake import Intake
from neckring.live.simulated_suit import Conduct, SimulatedSuit, SuitedTruth
from neckring.outing.plan import simulate, station_pressure
from neckring.outing.scenario import Scenario
from neckring.station.run import Run

RUN = DEMO.runs["floor-survey"]
SUIT = DEMO.suits[RUN.suit]
OF_B = next(run for run in DEMO.runs.values() if run.code not in ("floor-survey", "bench-climb"))


def scenario(run: Run) -> Scenario:
    return Scenario(DEMO.station, DEMO.suits[run.suit], DEMO.wearers[run.wearer], run)


SCENARIO = scenario(RUN)


@pytest.fixture(scope="module")
def sheet() -> RunSheet:
    return run_sheet(DEMO, "floor-survey", OF_B.code, rehearsal=True)


@pytest.fixture(scope="module")
def watch(sheet: RunSheet) -> AlarmWatch:
    wired = {one.wearer: one for one in wire([("A", SUIT), ("B", DEMO.suits[OF_B.suit])])}
    return AlarmWatch(sheet, DEMO.limits, {"A": SCENARIO, "B": scenario(OF_B)}, wired)


def deed(kind: Kind, role: Role = Role.LEAD, **body: str | int) -> Deed:
    return Deed(f"{kind.value}-{body}", kind, "L1", role, "d", body)


def state_of(sheet: RunSheet, *deeds: tuple[float, Deed]) -> RunState:
    book = [entry(n, one, at) for n, (at, one) in enumerate(deeds, start=1)]
    return fold_all(sheet, book, first_state(sheet))


def looked(watch: AlarmWatch, state: RunState, latest=None, seconds: int = 20) -> Board:
    board = Board()
    for second in range(seconds):
        at = 1000.0 + second
        board = judged(board, watch.facts(state, at, {"A": latest or {}}, {}, DeskNow()))
    return board


ALL_GOOD = {
    sensor.channel: reading(sensor.channel, value)
    for sensor in SUIT.sensors
    for value in [
        {"heart": 1.6, "battery": 14.0, "air": 160.0 / 60e3, "water_flow": 1.4 / 60e3}.get(
            sensor.channel, 18.0
        )
    ]
}


@pytest.mark.parametrize(
    ("fault", "cause"),
    [("fans", "air-lost"), ("pump", "water-lost"), ("sensor-silent:heart", "sensor-stale")],
)
def test_a_fault_put_into_the_suit_is_one_alarm_on_the_console(
    sheet, watch, fault: str, cause: str
) -> None:
    # Given a wearer away on the pack, well for two minutes, and then a fault for one more,
    state = state_of(sheet, (0.0, deed(Kind.SPELL_BEGUN, wearer="A", spell=5)))
    channels = watch.wired["A"].channels
    pressure = float(station_pressure(SCENARIO)[0])
    suit = SimulatedSuit("A", SuitedTruth(SCENARIO, 3), channels, pressure)
    intake, board, seen = Intake([watch.wired["A"]], pressure), Board(), []
    for second in range(1, 181):
        at = float(second)
        faults = {fault: 1.0} if second > 120 else {}
        for sent in suit.go_on(at, Conduct(Doing(5, 0.0), faults, None), lambda time: 1e9 + time):
            intake.take("A", sent.pack, Stamp(1e9 + at, at, at))
        board = judged(board, watch.facts(state, at, intake.latest(at), {}, DeskNow()))
        seen.append([alarm.cause for alarm in board.alarms])
    # then nothing was raised before it, and one alarm stands after it.
    assert not any(seen[:120])
    assert seen[-1] == [cause]


def test_before_anybody_is_dressed_silent_sensors_are_no_alarm(sheet, watch) -> None:
    assert looked(watch, state_of(sheet)).alarms == ()
    dressing = state_of(sheet, (0.0, deed(Kind.SPELL_BEGUN, wearer="A", spell=0)))
    assert looked(watch, dressing).alarms == ()


def test_in_the_suit_silent_sensors_are_one_alarm(sheet, watch) -> None:
    away = state_of(sheet, (0.0, deed(Kind.SPELL_BEGUN, wearer="A", spell=5)))
    (alarm,) = looked(watch, away).alarms
    assert alarm.cause == "sensors-many"
    assert len(alarm.also) == len(SUIT.sensors) + 1


def test_flows_that_should_be_are_those_of_the_plan(sheet, watch) -> None:
    # Given the plan's own simulation, what should flow in a spell is what flows in it.
    trace = simulate(SCENARIO).trace
    for number, spell in enumerate(RUN.outing):
        foreseen = should_flow(SCENARIO, spell)
        ends = sum(
            one.duration.nominal
            if one.duration
            else float(DEMO.station.path(one.starts_at, one.ends_at).length.nominal)
            / one.speed.nominal
            for one in RUN.outing[: number + 1]
        )
        place = int((trace["time"] <= ends + 1e-6).sum()) - 1
        for quantity, flow in foreseen.items():
            planned = float(trace[quantity][place])
            assert flow == pytest.approx(planned, rel=0.15), (number, quantity)
        assert ("air_flow" in foreseen) == (spell.air != "none" and spell.helmet_on)


def test_people_stops_and_turning_home_reach_the_alarms(sheet, watch) -> None:
    book = (
        (0.0, deed(Kind.SPELL_BEGUN, wearer="A", spell=5)),
        (10.0, deed(Kind.SYMPTOM, Role.TENDER, wearer="A", words="dizzy")),
        (11.0, deed(Kind.STOP, wearer="A", reason="dizzy")),
    )
    state = replace(state_of(sheet, *book), calls={"A": CallNow(3, 100.0, missed=1)})
    found = {alarm.cause: alarm for alarm in looked(watch, state, ALL_GOOD).alarms}
    assert set(found) == {"symptom", "stop-called", "call-missed"}
    assert "L1 for A: dizzy" in found["stop-called"].words
    # The medic's release ends the symptom, the lead's resumption the stop.
    ended = (
        (20.0, deed(Kind.RELEASED, Role.MEDIC, wearer="A")),
        (21.0, deed(Kind.RESUME, reason="well again")),
        (22.0, deed(Kind.TURN_BACK, wearer="A")),
    )
    state = state_of(sheet, *book, *ended)
    assert looked(watch, state, ALL_GOOD).alarms == ()
    facts = watch.facts(state, 30.0, {}, {}, DeskNow())
    assert not facts.wearers[0].away


def test_what_is_recorded_of_alarms_folds_into_the_runs_own_state(sheet, watch) -> None:
    # Given an alarm, acknowledged, that gets worse,
    away = (0.0, deed(Kind.SPELL_BEGUN, wearer="A", spell=5))
    state = state_of(sheet, away)
    low = looked(watch, state, ALL_GOOD | {"battery": reading("battery", 12.2)}, seconds=60)
    board = Board()
    told = [(60.0, one) for one in changes(board, low, "run")]
    (key,) = state_of(sheet, away, *told).alarms
    heard = (61.0, deed(Kind.ALARM_ACKNOWLEDGED, alarm=key))
    quiet = state_of(sheet, away, *told, heard).alarms[key]
    assert (quiet.rank, quiet.acknowledged_by) == (2, "L1")
    worse = low
    for second in range(20):
        latest = {"A": ALL_GOOD | {"battery": reading("battery", 11.9)}}
        worse = judged(worse, watch.facts(state, 1100.0 + second, latest, {}, DeskNow()))
    again = [(120.0, one) for one in changes(low, worse, "run")]
    # then the run's state has it at the higher rank, not acknowledged any more.
    now = state_of(sheet, away, *told, heard, *again).alarms[key]
    assert (now.rank, now.acknowledged_by) == (3, "")


def test_the_kit_says_when_there_is_air_that_no_fan_gives(sheet) -> None:
    # Given the demo's procedures carried out as written, step by step,
    book, at = [], 0.0
    for code, procedure in sheet.procedures.items():
        book.append((at, deed(Kind.PROCEDURE_BEGUN, procedure=code)))
        for number in range(1, len(procedure.listed.procedure.steps) + 1):
            at += 10.0
            book.append((at, deed(Kind.STEP_DONE, procedure=code, step=number)))
        book.append((at, deed(Kind.PROCEDURE_ENDED, procedure=code)))
    entries = [entry(n, one, when) for n, (when, one) in enumerate(book, start=1)]
    # then the face is free at first, not while the wearer is out on the pack, and at the end again.
    fresh = fresh_air(entries, sheet)
    assert fresh[0].free
    assert not all(one.free for one in fresh)
    assert fresh[-1].free
    assert [one.entry for one in fresh] == sorted(one.entry for one in fresh)
    # Each change is what the kit says at that entry, and out on the pack the fans are what counts.
    on_pack = next(one for one in fresh if not one.free)
    state = fold_all(sheet, entries[: on_pack.entry], first_state(sheet))
    says = kit_says(sheet.ground, state.kit, "A")
    assert says.inside
    assert not says.without_fans
