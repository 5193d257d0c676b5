"""The hidden truth of a rehearsal: the plan's own kernel, faults in and out, sensors that err."""

from __future__ import annotations

import numpy as np
import pytest
from hidden_worlds import GAUGES, MINUTE, Course, course, demo_run

from neckring.live.doing import Doing, ahead
from neckring.live.truth import USUAL_ACCURACY, HiddenTruth
from neckring.outing.batch import advance
from neckring.outing.plan import coldest, simulate, station_pressure
from neckring.outing.spells import legs, schedule
from neckring.outing.wearing import dressed

RUN = demo_run()
PLANNED = course(RUN, 1, spread=0.0)


def outside(seed=4, until=30.0 * MINUTE) -> HiddenTruth:
    truth = HiddenTruth(RUN, seed, step=10.0)
    for doing in PLANNED.doings:
        if doing.begun < until:
            truth.advance(min(until, doing.begun), doing)
    truth.advance(until, PLANNED.at(until))
    return truth


def test_without_work_that_wanders_it_is_the_plan_for_its_own_values(monkeypatch):
    # Given a truth whose work keeps to the plan and whose kit is as on its data sheets,
    monkeypatch.setattr("neckring.live.hidden_values.WORK_SPREAD", 0.0)
    monkeypatch.setattr("neckring.live.truth.WORK_SPREAD", 0.0)
    truth = HiddenTruth(RUN, 4, step=10.0)
    truth._carried.scores[:, len(truth._doubts.of) :] = 0.0
    end = PLANNED.doings[6].begun
    for before, doing in zip(PLANNED.doings[:6], PLANNED.doings[1:7], strict=True):
        truth.advance(doing.begun, before)
    # when the same wearer is computed as a plan is,
    scenario = truth.members.suited.scenario
    ready, pressure = legs(scenario), station_pressure(scenario)
    batch = dressed(scenario, pressure, coldest(ready))
    advance(batch, schedule(scenario, ready, pressure).part(0, 6))
    # then both are the same.
    assert truth.now == pytest.approx(end)
    assert np.allclose(batch.whole[0, ::16][:6], truth.members.batch.whole[0, ::16][:6], atol=2e-2)
    assert truth.true()["core_temperature"] == pytest.approx(float(batch.state[0, 4, 48]), abs=0.01)


def test_other_values_are_drawn_for_another_seed_and_the_same_for_the_same():
    first, again, other = (outside(seed).true() for seed in (4, 4, 5))
    assert first == again
    assert first["core_temperature"] != other["core_temperature"]


def test_sensors_err_by_about_what_is_said():
    # Given a truth at rest, when its sensors are read a thousand times,
    truth = outside()
    true = truth.true()
    said = [truth.measured() for _ in range(1000)]
    for name in GAUGES:
        error = np.array([one[name] for one in said]) - true[name]
        # then their noise is that share of their accuracy that does not stay.
        assert error.std() == pytest.approx(USUAL_ACCURACY[name] * np.sqrt(0.5), rel=0.1)
        assert abs(error.mean()) < 3.0 * USUAL_ACCURACY[name]


@pytest.mark.parametrize(
    ("code", "quantity", "least", "most"),
    [
        ("pump_weak", "water_flow", 0.3, 0.8),
        ("main_kinked", "water_flow", 0.5, 0.97),
        ("fans", "helmet_co2", 1.2, 40.0),
        ("fan_weak", "helmet_co2", 1.1, 3.0),
        ("pump", "water_flow", -1e-9, 1e-9),
        ("harder_work", "heart_rate", 1.05, 1.6),
    ],
)
def test_a_fault_shows_and_is_gone_when_it_is_taken_out(code, quantity, least, most):
    # Given two alike,
    sound, faulty = outside(), outside()
    faulty.breaks(code, 0.6)
    for truth in (sound, faulty):
        truth.advance(33.0 * MINUTE, PLANNED.at(33.0 * MINUTE))
    # when a fault is put into one, then it shows in its reading;
    ratio = faulty.true()[quantity] / sound.true()[quantity]
    assert least <= ratio <= most
    # and when it is taken out the flow or breath is as before.
    faulty.mends(code)
    for truth in (sound, faulty):
        truth.advance(43.0 * MINUTE, PLANNED.at(43.0 * MINUTE))
    assert faulty.true()[quantity] / sound.true()[quantity] == pytest.approx(1.0, abs=0.08)


def test_a_stuck_sensor_says_the_same_and_a_mended_one_does_not():
    truth = outside()
    truth.sensor_fails("water_flow", "stuck")
    assert len({truth.measured()["water_flow"] for _ in range(5)}) == 1
    truth.sensor_mends("water_flow")
    assert len({truth.measured()["water_flow"] for _ in range(5)}) == 5


def test_an_unknown_fault_names_those_that_are_known():
    truth = outside(until=MINUTE)
    with pytest.raises(ValueError, match=r"accepted: .*pump_weak"):
        truth.breaks("pump_wek")
    with pytest.raises(ValueError, match=r"accepted: .*water_flow"):
        truth.sensor_fails("flow", "stuck")
    with pytest.raises(ValueError, match="stuck, offset, drifts"):
        truth.sensor_fails("water_flow", "odd")


def test_who_turns_for_home_is_home_after_the_way_and_no_sooner():
    # Given a wearer on the way from the yard to the floor, two thirds done,
    ready = legs(RUN)
    number = 4
    begun = PLANNED.doings[number].begun
    turned = begun + 2.0 / 3.0 * ready[number].duration
    doing = Doing(number, begun, turned)
    # when he turns, then he walks back what he has walked,
    coming = ahead(RUN, ready, doing, turned + 1.0)
    assert coming.legs[0].spell.places == ("floor", "yard")
    assert coming.share == pytest.approx(1.0 / 3.0, abs=0.01)
    # through the yard, and at last stands in the bay before what was planned there.
    later = ahead(RUN, ready, doing, turned + 3600.0)
    assert later.legs[0].spell.places == ("bay",)
    assert later.legs[1].spell.note == "Changeover"


def test_a_plan_without_doubts_has_the_plans_own_trace():
    # The kernel's clock and the truth's run time agree when the run is opened at first dressing.
    done = simulate(RUN)
    truth = outside(until=10.0 * MINUTE)
    near = int(np.searchsorted(done.trace["time"], 10.0 * MINUTE))
    assert truth.members.read("ELAPSED")[0] == pytest.approx(done.trace["time"][near], abs=10.0)


def test_a_course_says_what_is_done_at_any_time():
    assert Course((Doing(0, 0.0), Doing(1, 60.0))).at(59.0).number == 0
    assert Course((Doing(0, 0.0), Doing(1, 60.0))).at(60.0).number == 1
