"""After a rehearsal: what was seen stands there, what was not is said, and times are kept."""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np
import pytest
from alarm_worlds import DEMO, entry
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import quantile_test
from scipy.stats.mstats import mquantiles

from neckring.live.alarm_list import LISTED
from neckring.live.drill import FITTING, Fresh, HelpTime, drill_report
from neckring.live.drill_plan import help_time
from neckring.live.drill_times import (
    CannotKeepError,
    drills_for_an_upper_end,
    keep_drills,
    offered,
    quantile,
    quantile_band,
)
from neckring.live.drill_words import drills_from, report_words
from neckring.live.entries import Deed, Entry, Kind, Role
from neckring.live.fault_catalogue import catalogue
from neckring.outing.scenario import Scenario
from neckring.station.drills import Drill, read_drills
from neckring.station.fault import StationFaults
from neckring.station.help import ASSUMED_HELP
from neckring.units import Quantity

HELP = HelpTime("fans", noticed=20.0, air=50.0, cooling=600.0)


def deed(kind: Kind, actor: str = "L1", role: Role = Role.LEAD, **body: str | int | float) -> Deed:
    return Deed(f"{kind}-{actor}-{body}", kind, actor, role, "d", body)


def book(*lines: tuple[float, Deed], speed: float = 1.0) -> list[Entry]:
    return [
        entry(number, one, at, monotonic=at / speed)
        for number, (at, one) in enumerate(lines, start=1)
    ]


def fault(code: str, kind: Kind = Kind.FAULT_BEGUN) -> Deed:
    body = {"share": 1.0} if kind is Kind.FAULT_BEGUN else {}
    return deed(kind, "R1", Role.TRAINER, wearer="A", fault=code, **body)


def alarm(cause: str, wearer: str = "A") -> Deed:
    key = f"{cause}/{wearer}/"
    body = {"alarm": key, "rank": 3, "cause": cause, "wearer": wearer, "words": f"{cause}!"}
    return deed(Kind.ALARM_RAISED, "desk", Role.DESK, **body)


def heard(cause: str, actor: str) -> Deed:
    return deed(Kind.ALARM_ACKNOWLEDGED, actor, Role.TENDER, alarm=f"{cause}/A/")


WELL_DONE = (
    (600.0, fault("fans")),
    (604.0, alarm("air-lost", "B")),
    (605.0, alarm("air-lost")),
    (607.0, heard("air-lost", "T1")),
    (609.0, deed(Kind.NOTE, "T1", Role.TENDER, wearer="A", words="no air, he says")),
    (611.0, deed(Kind.CARD_OPENED, "L1", card="air-lost", wearer="A")),
    (630.0, deed(Kind.CARD_STEP_DONE, "T1", Role.TENDER, card="air-lost", wearer="A", step=2)),
    (700.0, fault("fans", Kind.FAULT_ENDED)),
)


def test_a_fault_that_was_met_stands_there_with_all_its_times() -> None:
    fresh = (Fresh("A", 0.0, 0, False), Fresh("B", 625.0, 7, True), Fresh("A", 630.0, 7, True))
    (story,) = drill_report(book(*WELL_DONE), fresh, lambda *_: HELP).stories
    seen = (story.alarm, story.acknowledged, story.told, story.action, story.fresh_air)
    assert [one and (one.who, one.after) for one in seen] == [
        ("desk", 5.0),
        ("T1", 7.0),
        ("T1", 9.0),
        ("L1", 11.0),
        ("T1", 30.0),
    ]
    assert story.noticed is story.acknowledged
    assert story.missed == ()
    assert (story.begun, story.ended) == (600.0, 700.0)
    said = " ".join(report_words(drill_report(book(*WELL_DONE), fresh, lambda *_: HELP)))
    assert "first action: 20 s planned, 11 s taken: within it" in said
    assert "fresh air: 50 s planned, 30 s taken: within it" in said
    assert "Missed" not in said


def test_what_was_not_seen_is_said_and_not_scored() -> None:
    # Given a fault to which nobody did anything, and an alarm that does not tell of it,
    report = drill_report(
        book(
            (600.0, fault("fans")), (601.0, alarm("sensor-stale")), (602.0, alarm("clock-set", ""))
        ),
        help_time=lambda *_: HELP,
    )
    (story,) = report.stories
    # then every part of it is missing, in words, and no time is compared.
    assert story.alarm is story.acknowledged is story.action is story.fresh_air is None
    assert len(story.missed) == 4
    said = "\n".join(report_words(report))
    assert "no alarm told of it; nobody showed that they had noticed" in said
    assert said.count("not compared, as it was not seen") == 2
    assert "taken" not in said
    assert drills_from(report, {"A": "dipper"}, datetime.date(2026, 11, 28)) == ()


def test_what_the_trainer_and_the_desk_do_is_nobodys_notice() -> None:
    lines = (
        (10.0, fault("pump")),
        (11.0, deed(Kind.NOTE, "R1", Role.TRAINER, wearer="A", words="now we shall see")),
        (12.0, deed(Kind.CALL_MISSED, "desk", Role.DESK, wearer="A", call=3)),
        (13.0, deed(Kind.STOP, "R1", Role.TRAINER, wearer="both")),
        (14.0, deed(Kind.STOP, "M1", Role.MEDIC, wearer="B")),
    )
    (story,) = drill_report(book(*lines)).stories
    assert story.noticed is None
    assert not story.needs_air
    assert "no fresh air at the face was recorded" not in story.missed


def test_a_deed_belongs_to_the_fault_before_it_and_late_deeds_still_count() -> None:
    lines = (
        (10.0, deed(Kind.STOP, "T1", Role.TENDER, wearer="A", reason="practice")),
        (20.0, fault("pump")),
        (30.0, fault("pump", Kind.FAULT_ENDED)),
        (35.0, deed(Kind.TURN_BACK, "L1", wearer="A")),
        (40.0, fault("fans")),
        (45.0, deed(Kind.HOLD, "T2", Role.TENDER)),
    )
    report = drill_report(book(*lines))
    actions = [story.action and story.action.who for story in report.stories]
    assert actions == ["L1", "T2"]
    assert report.without_fault == ("stop by T1 at 0 min",)


def test_at_more_than_real_speed_both_times_stand_there_and_the_drill_says_so() -> None:
    report = drill_report(book(*WELL_DONE, speed=4.0), help_time=lambda *_: HELP)
    (story,) = report.stories
    assert story.action is not None
    assert (story.action.after, story.action.real) == (11.0, 2.75)
    assert "(3 s real time)" in "\n".join(report_words(report))
    (kept,) = drills_from(report, {"A": "dipper"}, datetime.date(2026, 11, 28))
    assert (kept.key, kept.speed) == ("notice_air", 4.0)


def test_a_face_that_was_free_already_is_said_to_have_been() -> None:
    (story,) = drill_report(book((10.0, fault("fans"))), (Fresh("A", 0.0, 0, True),)).stories
    assert story.fresh_air is not None
    assert story.fresh_air.after == 0.0


def test_nothing_put_in_is_nothing_to_compare() -> None:
    assert report_words(drill_report(())) == ("No fault was put in: there is nothing to compare.",)


def test_the_alarms_that_tell_of_each_fault_are_listed_and_known() -> None:
    assert {cause for causes in FITTING.values() for cause in causes} <= set(LISTED)
    assert set(FITTING) == set(catalogue())


@pytest.mark.parametrize("code", sorted(catalogue()))
def test_the_plan_has_a_help_clock_for_each_fault_it_knows(code: str) -> None:
    run = DEMO.runs["floor-survey"]
    scenario = Scenario(DEMO.station, DEMO.suits[run.suit], DEMO.wearers[run.wearer], run)
    found = help_time(scenario, code, 5, 0.5)
    if code == "harder_work":
        assert found is None
        return
    assert found is not None
    assert found.noticed is not None
    assert found.noticed > 0.0
    assert found.air is None or found.cooling is None or found.cooling >= 0.0


# Times of drills

TIMES = st.lists(st.floats(0.1, 600.0), min_size=1, max_size=60)


@given(TIMES, st.sampled_from((0.5, 0.9)))
def test_quantiles_are_those_of_a_public_library(times, share) -> None:
    # Type 8 of Hyndman and Fan is (1/3, 1/3) of scipy's mquantiles, "median unbiased" of numpy's.
    expected = float(np.quantile(times, share, method="median_unbiased"))
    assert quantile(times, share) == pytest.approx(expected, rel=1e-9)
    other = float(mquantiles(times, [share], alphap=1 / 3, betap=1 / 3)[0])
    assert quantile(times, share) == pytest.approx(other, rel=1e-9)


@given(
    st.lists(st.floats(0.1, 600.0), min_size=1, max_size=60, unique=True),
    st.sampled_from((0.5, 0.9)),
)
def test_bands_are_those_of_a_public_library(times, share) -> None:
    # scipy's quantile_test gives Conover's interval from the order statistics.
    interval = quantile_test(times, q=0.0, p=share).confidence_interval(0.9)
    low, high = quantile_band(times, share)
    for mine, theirs in ((low, interval.low), (high, interval.high)):
        assert (mine is None) == bool(np.isnan(theirs) or np.isinf(theirs))
        if mine is not None:
            assert mine == pytest.approx(float(theirs))


def test_how_many_drills_an_upper_end_takes() -> None:
    # 0.9**n at most 0.05: n = 29, the rule for a 90th percentile with 95 % (Wilks 1941, memory).
    assert drills_for_an_upper_end(0.9) == 29
    assert quantile_band(list(range(1, 29)), 0.9)[1] is None
    assert quantile_band(list(range(1, 30)), 0.9)[1] == 29


def test_bands_cover_the_true_quantile_as_often_as_they_say() -> None:
    generator = np.random.default_rng(5)
    inside = 0
    for _ in range(400):
        low, high = quantile_band(list(generator.lognormal(3.0, 0.5, 31)), 0.5)
        assert low is not None
        assert high is not None
        inside += low <= np.exp(3.0) <= high
    assert inside >= 0.86 * 400


def drill(took: float, key: str = "open_helmet", speed: float = 1.0, suit: str = "dipper") -> Drill:
    quantity = Quantity(took, took, took, "exact", f"{took} s", "time")
    return Drill(
        key=key,
        suit=suit,
        took=quantity,
        on=datetime.date(2026, 11, 28),
        source="watch",
        speed=speed,
    )


def test_drills_are_offered_with_their_number_and_never_from_too_few() -> None:
    few = offered([drill(10.0), drill(12.0)], "dipper", ASSUMED_HELP)
    assert (few[0].number, few[0].proposed) == (2, "")
    # Given ten times from 10 to 19 s, another suit's and one at four times real speed,
    some = [drill(10.0 + n) for n in range(10)]
    others = [drill(99.0, suit="wagtail"), drill(2.0, speed=4.0)]
    (one,) = offered([*some, *others], "dipper", ASSUMED_HELP)
    assert (one.number, one.left_out) == (10, 1)
    assert one.p50 is not None
    assert one.p50.value == pytest.approx(14.5)
    # then a range with that P50 and P90 is offered, and that ten are few is said.
    assert one.p90 is not None
    low, high = (float(part) for part in one.proposed.removesuffix(" s").split(".."))
    assert low + 0.9 * (high - low) >= one.p90.value
    assert low + 0.5 * (high - low) == pytest.approx(one.p50.value, abs=1.0)
    assert "29 are needed" in one.words
    # And with thirty the upper end of what P90 may be counts, not P90 itself.
    (many,) = offered([drill(10.0 + n / 3.0) for n in range(30)], "dipper", ASSUMED_HELP)
    assert many.p90 is not None
    assert many.p90.high is not None
    low, high = (float(part) for part in many.proposed.removesuffix(" s").split(".."))
    assert low + 0.9 * (high - low) >= many.p90.high


@given(st.lists(st.floats(0.1, 1500.0), min_size=3, max_size=40))
def test_slower_drills_never_offer_a_quicker_help_clock(times) -> None:
    def upper(some: list[float]) -> float:
        (one,) = offered([drill(round(t, 1)) for t in some], "dipper", ASSUMED_HELP)
        proposed = one.proposed.removesuffix(" s").split("..")[-1]
        return float(proposed) if proposed else np.inf

    longest = sorted(times)
    longest[-1] += 60.0
    assert upper(longest) >= upper(times)


def test_drills_are_kept_whole_and_read_back(tmp_path: Path) -> None:
    assert read_drills(tmp_path) == ()
    keep_drills(tmp_path, [drill(10.0), drill(11.5, "notice_air", 4.0)])
    keep_drills(tmp_path, [drill(12.0)])
    text = (tmp_path / "drills.yaml").read_text(encoding="utf-8")
    kept = read_drills(tmp_path)
    assert [one.took.nominal for one in kept] == [10.0, 11.5, 12.0]
    assert [one.speed for one in kept] == [1.0, 4.0, 1.0]
    assert text.startswith("# Times taken in drills")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["drills.yaml"]


def test_a_faulty_file_is_told_of_and_never_written_to(tmp_path: Path) -> None:
    path = tmp_path / "drills.yaml"
    wrong = 'drills:\n  - {key: open_helmt, suit: dipper, took: 0 s, on: 2026-11-28, source: "x"}\n'
    path.write_text(wrong, encoding="utf-8")
    with pytest.raises(StationFaults) as told:
        keep_drills(tmp_path, [drill(10.0)])
    said = str(told.value)
    assert "drills.yaml:2:11: drills[1].key" in said
    assert 'did you mean "open_helmet"?' in said
    assert "drills[1].took" in said
    assert path.read_text(encoding="utf-8") == wrong


def test_a_file_in_another_order_is_left_as_it_was(tmp_path: Path) -> None:
    # Given drills that are written in one line, so that nothing can be added at the end,
    path = tmp_path / "drills.yaml"
    flow = 'drills: [{key: connect, suit: dipper, took: 40 s, on: 2026-11-28, source: "x"}]\n'
    path.write_text(flow, encoding="utf-8")
    with pytest.raises(CannotKeepError, match="add these by hand"):
        keep_drills(tmp_path, [drill(10.0)])
    assert path.read_text(encoding="utf-8") == flow
    assert len(read_drills(tmp_path)) == 1
