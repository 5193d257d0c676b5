"""The close-out of a run: forms, masses, release, near misses and their deadlines."""

from __future__ import annotations

import datetime
import zoneinfo
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.crew.crowd import HEAD, form, told

from neckring.crew.body_map import HEIGHT, REGIONS, WIDTH
from neckring.crew.closing import CloseOut, Ground, close_out
from neckring.crew.deadline import business_day, deadline, left_until
from neckring.crew.feeling_scales import FEELINGS, POINTS, TROUBLE
from neckring.crew.forms import CloseOutForm
from neckring.crew.mass_balance import Weighed, mass_balance
from neckring.station.fields import UnacceptableError
from neckring.station.loading import load_station
from neckring.station.panels import read_within
from neckring.units import parse_quantity

DEMO = load_station(Path(str(files("neckring.station"))) / "demo")
UTC = datetime.UTC
NOW = datetime.datetime(2026, 11, 27, 12, 0, tzinfo=UTC)
RELEASE = """release:
  by: M1
  answers: {symptom: no}
  readings:
    - {at: "10:50", heart_rate: 118 bpm, temperature: 37.6 degC, saturation: 97 %, systolic: 140 mmHg, diastolic: 80 mmHg}
    - {at: "11:00", heart_rate: 96 bpm, temperature: 37.4 degC, saturation: 98 %, systolic: 130 mmHg, diastolic: 80 mmHg}
"""  # noqa: E501 - a file as people write it
MISS = """near_misses:
  - {words: hose caught, happened_on: 2026-11-27, happened_at: "10:20", known_on: 2026-11-27, known_at: "10:25", harm: none, panels: [safety]}
"""  # noqa: E501 - a file as people write it


def closed(*texts: str, now: datetime.datetime = NOW) -> CloseOut:
    ground = Ground(DEMO.limits, 30.0, DEMO.people, DEMO.panels, now)
    return close_out("yard-walk", "W3", [form(HEAD + text) for text in texts], ground)


def test_a_run_without_forms_is_open_and_nobody_is_released() -> None:
    found = closed()
    assert set(found.missing) >= {"task_load", "masses", "release"}
    assert (found.released, found.complete) == (False, False)


def test_the_signed_gate_releases_and_a_symptom_leaves_it_to_the_medic() -> None:
    assert closed(RELEASE).released
    held = closed(RELEASE, "symptoms: {headache: 2}\n")
    assert not held.released
    assert held.held_by == ("symptom: headache",)
    word = RELEASE + "  override: {decides: release, reason: gone after a drink, by: M1}\n"
    assert closed(word, "symptoms: {headache: 2}\n").released


def test_a_medic_may_hold_although_the_gate_is_open() -> None:
    held = closed(RELEASE + "  override: {decides: hold, reason: looks pale, by: M1}\n")
    assert held.release is not None
    assert (held.release.outcome, held.released) == ("open", False)


def test_the_later_form_counts_but_near_misses_add_up() -> None:
    first = "task_load: {mental_demand: 0, physical_demand: 0, temporal_demand: 0, "
    first += "performance: 0, effort: 0, frustration: 0}\n" + MISS
    second = first.replace("frustration: 0", "frustration: 60").replace("hose caught", "slipped")
    found = closed(first, second)
    assert found.task_load == pytest.approx(10.0)
    assert [due.words for due in found.dues] == ["hose caught", "slipped"]
    # When the first is told again as reported, it is still one
    again = closed(first, second, MISS.replace("]}", "], reported: {safety: 2026-11-27}}"))
    assert [due.reported_on is None for due in again.dues] == [False, True]


def test_masses_worked_by_hand() -> None:
    # Given 71.2 kg before, 70.5 kg after, 400 mL drunk, 150 mL passed, garments 0.35 kg heavier
    def of(text: str, kind: str):
        return parse_quantity(text, kind)

    found = mass_balance(
        Weighed(
            of("71.2 kg", "mass"),
            of("70.5 kg", "mass"),
            of("400 mL", "volume"),
            of("150 mL", "volume"),
            of("3.20 kg", "mass"),
            of("3.55 kg", "mass"),
        )
    )
    # Then 0.7 kg is lost, 0.95 kg was sweat and breath, of which 0.6 kg went with the air
    assert found.lost.value == pytest.approx(0.7)
    assert found.lost_share.value == pytest.approx(0.7 / 71.2)
    assert found.sweat.value == pytest.approx(0.95)
    assert found.evaporated is not None
    assert found.evaporated.value == pytest.approx(0.60)
    assert found.sweat.deviation == pytest.approx((2 * 0.05**2 + 2 * 0.02**2) ** 0.5)


@given(st.floats(40, 120), st.floats(0, 3), st.floats(0, 3), st.floats(0, 1))
def test_no_water_is_lost_in_the_books(before, sweat, drunk, passed) -> None:
    after = before + drunk - passed - sweat
    parts = [f"{before!r} kg", f"{after!r} kg", f"{drunk!r} L", f"{passed!r} L"]
    kinds = ["mass", "mass", "volume", "volume"]
    weighed = Weighed(*(parse_quantity(t, k) for t, k in zip(parts, kinds, strict=True)))
    assert mass_balance(weighed).sweat.value == pytest.approx(sweat, abs=1e-9)


def test_a_signed_limit_of_lost_water_is_told_and_holds_the_wearer() -> None:
    found = closed(RELEASE, "masses: {nude_before: 71.2 kg, nude_after: 67.0 kg}\n")
    assert any("water lost 5.9 %" in words for words in found.limits_crossed)
    assert not found.released


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("masses: {nude_before: 71.2 lb, nude_after: 70.5 kg}\n", "5", "masses.nude_after"),
        ("masses: {nude_before: 71.2, nude_after: 70.5 kg}\n", "5", "71.2 kg"),
        ("masses: {nude_before: 70.5 kg, nude_after: 71.2 kg}\n", "5", "changed over"),
        ("feelings: {warmth: 5}\n", "5", "from -4 to 4"),
        ("feelings: {warm: 1}\n", "5", 'did you mean "warmth"?'),
        ("body_map: {left_colar_bone: 3}\n", "5", 'did you mean "left_collar_bone"?'),
        ("symptoms: {headache: 9}\n", "5", "from 0 to 8"),
        ("said: {name: somebody}\n", "5", "codes only"),
        ("", "1", "nothing in it"),
        (RELEASE.replace("11:00", "10:40"), "10", "a time after 10:50"),
        (MISS.replace("panels: [safety]", "panels: [safety], reported: {board: 2026-11-27}"), "6",
         "a panel of this near miss"),
        (MISS.replace('known_at: "10:25"', 'known_at: "10:10"'), "6", "not before it happened"),
    ],
)  # fmt: skip
def test_a_form_that_cannot_be_right_is_told_with_its_place(text, place, words) -> None:
    faults = told(CloseOutForm, HEAD + text, "form.yaml")
    assert any(f":{place}:" in str(fault) and words in str(fault) for fault in faults), faults


@pytest.mark.parametrize(
    ("within", "known", "due"),
    [
        # 27 November 2026 is a Friday
        ("24 h", "2026-11-27 10:25", "2026-11-28 10:25:00"),
        ("1 day", "2026-11-27 10:25", "2026-11-28 23:59:59"),
        ("1 business day", "2026-11-27 10:25", "2026-11-30 23:59:59"),
        ("5 business days", "2026-11-28 10:25", "2026-12-04 23:59:59"),
        ("14 days", "2026-11-27 23:59", "2026-12-11 23:59:59"),
    ],
)
def test_when_a_report_is_due(within, known, due) -> None:
    moment = datetime.datetime.fromisoformat(known).replace(tzinfo=UTC)
    found = deadline(moment, read_within(within), ())
    assert found.due.replace(tzinfo=None).isoformat(sep=" ") == due


def test_hours_pass_on_the_line_of_time_when_the_clocks_are_changed() -> None:
    # Given 24 h over the night on which summer ends
    vienna = zoneinfo.ZoneInfo("Europe/Vienna")
    known = datetime.datetime(2026, 10, 24, 12, 0, tzinfo=vienna)
    found = deadline(known, read_within("24 h"), ())
    assert (found.due.hour, left_until(found.due, known)) == (11, 24 * 3600.0)


def test_holidays_are_said_to_be_unknown_when_nobody_listed_them() -> None:
    friday = datetime.datetime(2026, 12, 24, 9, 0, tzinfo=UTC)
    unknown = deadline(friday, read_within("1 business day"), None)
    assert "holidays are not known" in unknown.assumed
    assert unknown.due.day == 25
    known = deadline(friday, read_within("1 business day"), [datetime.date(2026, 12, 25)])
    assert (known.due.day, known.assumed) == (28, "")


@given(
    start=st.dates(datetime.date(2026, 1, 1), datetime.date(2028, 1, 1)),
    number=st.integers(1, 40),
    holidays=st.sets(st.dates(datetime.date(2026, 1, 1), datetime.date(2028, 6, 1)), max_size=9),
)
def test_just_so_many_business_days_lie_behind_the_start(start, number, holidays) -> None:
    last = business_day(start, number, holidays)
    days = [start + datetime.timedelta(days=n) for n in range(1, (last - start).days + 1)]
    assert sum(day.weekday() < 5 and day not in holidays for day in days) == number
    assert last.weekday() < 5
    assert last not in holidays


@pytest.mark.parametrize("text", ["5", "5 weeks", "0 h", "business days", "1.5 days", "9999 days"])
def test_a_time_for_reporting_that_is_none(text) -> None:
    with pytest.raises(UnacceptableError):
        read_within(text)


def test_overdue_and_late_are_told() -> None:
    later = datetime.datetime(2026, 11, 28, 10, 26, tzinfo=UTC)
    (due,) = closed(MISS, now=later).dues
    assert (due.left, due.late) == (-60.0, True)
    (told_late,) = closed(MISS.replace("]}", "], reported: {safety: 2026-11-29}}")).dues
    assert told_late.late


def test_our_scales_have_nine_points_with_different_words() -> None:
    for scale in (*FEELINGS.values(), TROUBLE):
        assert len(set(scale.words)) == POINTS
        assert scale.word(scale.lowest) == scale.words[0]
        assert scale.word(scale.highest) == scale.words[-1]


def test_the_body_map_is_symmetrical_and_on_its_sheet() -> None:
    assert len({(region.side, region.corners) for region in REGIONS.values()}) == len(REGIONS)
    for code, region in REGIONS.items():
        assert all(0 <= x <= WIDTH and 0 <= y <= HEIGHT for x, y in region.corners), code
        if code.startswith("left_"):
            other = REGIONS[code.replace("left_", "right_")]
            assert {(WIDTH - x, y) for x, y in region.corners} == set(other.corners)
            # From the front the wearer's left is on the right of the sheet.
            assert (region.middle[0] > WIDTH / 2) is (region.side == "front")
