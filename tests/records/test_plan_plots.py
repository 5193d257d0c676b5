"""The pictures: every limit drawn and named, words for those who cannot see them."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_plans import invented_plan

from neckring.outing.findings import Plan
from neckring.records.picture_sheet import moved_apart
from neckring.records.picture_svg import Drawing
from neckring.records.pictures import PICTURES
from neckring.records.plan_plots import draw_pictures, pictures_without_values, thinned
from neckring.records.plan_timeline import stretches

NEEDED = {
    "core_temperature", "mean_skin_temperature", "lowest_skin_temperature", "heart_rate",
    "metabolic_rate", "heat_storage", "sweat_rate", "body_water_loss", "reservoir_temperature",
    "water_inlet_temperature", "water_outlet_temperature", "water_flow", "ice_mass",
    "garment_heat", "helmet_co2", "inspired_co2", "inspired_o2", "fog_margin", "helmet_humidity",
    "air_flow", "battery_charge", "battery_voltage",
}  # fmt: skip


@pytest.fixture(scope="module")
def drawings() -> dict[str, Drawing]:
    return {drawing.key: drawing for drawing in draw_pictures(invented_plan())}


def test_every_quantity_the_board_wants_is_drawn() -> None:
    drawn = {curve.quantity for one in PICTURES for panel in one.panels for curve in panel.curves}
    assert drawn == NEEDED


def test_each_picture_has_title_and_description(drawings: dict[str, Drawing]) -> None:
    assert len(drawings) == len(PICTURES) + 1
    for key, drawing in drawings.items():
        assert f'<title id="{key}-title">{drawing.title}</title>' in drawing.svg
        assert f'<desc id="{key}-words">' in drawing.svg
        assert f'aria-labelledby="{key}-title {key}-words"' in drawing.svg


def test_each_limit_is_a_labelled_line(drawings: dict[str, Drawing]) -> None:
    text = "\n".join(drawing.svg for drawing in drawings.values()).replace("\u00a0", " ")
    for label in (
        "stop now above 38.50 °C",
        "turn back above 38.00 °C",
        "caution rise above 1.00 K",
        "turn back above 152 bpm",
        "turn back below 15.0 °C",
        "turn back above 5.7 kJ/kg",
        "caution above 2.00 %",
        "caution above 1.50 kPa",
        "stop now above 3.00 kPa",
        "stop now below 18.0 kPa",
        "caution below 0.0 K",
        "turn back below 25 %",
        "caution below 0.50 L/min",
    ):
        assert f">{label}</text>" in text, label
    assert ">crossed at 40 min</text>" in text


def test_the_words_tell_peak_end_and_crossing(drawings: dict[str, Drawing]) -> None:
    words = drawings["heart"].words.replace("\u00a0", " ")
    assert "highest 157 bpm at 4" in words
    assert "crossed at 40 min (10:10)" in words
    assert "No limit is set on it." in drawings["air"].words


def test_the_svg_needs_nothing_from_outside_and_no_style(drawings: dict[str, Drawing]) -> None:
    for drawing in drawings.values():
        for unwanted in ("http", "xmlns", "xlink", "url(", "style=", "<style", "clip-path", "NaN"):
            assert unwanted not in drawing.svg, (drawing.key, unwanted)


def test_ids_are_unique_and_every_use_points_to_one(drawings: dict[str, Drawing]) -> None:
    text = "".join(drawing.svg for drawing in drawings.values())
    ids = re.findall(r' id="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r' href="#([^"]+)"', text)) <= set(ids)


def test_nothing_is_drawn_outside_the_sheet(drawings: dict[str, Drawing]) -> None:
    for drawing in drawings.values():
        view = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', drawing.svg)
        assert view is not None
        width, height = map(float, view.groups())
        for path in re.findall(r'<path d="([^"]+)" (?:fill|stroke)', drawing.svg):
            numbers = [float(n) for n in re.findall(r"-?[\d.]+", path)]
            assert all(-0.1 <= x <= width for x in numbers[0::2]), drawing.key
            assert all(-0.1 <= y <= height for y in numbers[1::2]), drawing.key


def test_the_same_plan_gives_the_same_drawings() -> None:
    assert draw_pictures(invented_plan()) == draw_pictures(invented_plan())


def test_a_quantity_that_was_not_computed_is_named_not_drawn(shorten: Plan) -> None:
    empty = {"inspired_o2": np.full_like(shorten.trace["time"], np.nan)}
    plan = replace(shorten, trace=shorten.trace | empty)
    assert pictures_without_values(plan) == ["Inspired oxygen"]
    assert "o2" not in {drawing.key for drawing in draw_pictures(plan)}


def test_a_quantity_known_for_a_part_of_the_run_is_drawn_for_that_part(shorten: Plan) -> None:
    values = shorten.trace["inspired_co2"].copy()
    values[:60] = np.nan
    drawings = draw_pictures(replace(shorten, trace=shorten.trace | {"inspired_co2": values}))
    assert all("nan" not in drawing.svg.lower() for drawing in drawings)


@pytest.mark.parametrize("minutes", [3, 45, 240, 700])
def test_short_and_long_runs_can_be_drawn(shorten: Plan, minutes: int) -> None:
    factor = minutes * 60 / shorten.duration
    spells = tuple(
        replace(spell, begins=spell.begins * factor, ends=spell.ends * factor)
        for spell in shorten.spells
    )
    trace = shorten.trace | {"time": shorten.trace["time"] * factor}
    stretched = replace(
        shorten,
        duration=minutes * 60.0,
        spells=spells,
        trace=trace,
        longest=shorten.longest * factor,
    )
    heart = next(one for one in draw_pictures(stretched) if one.key == "heart")
    ticks = re.findall(r">(\d\d:\d\d)</text>", heart.svg)
    assert 2 <= len(ticks) <= 11


def test_dollar_signs_and_odd_letters_are_text_not_formulas(shorten: Plan) -> None:
    odd = replace(shorten.spells[0], activity="$x^$ 🐦", place="\x01\ufffe")
    timeline = draw_pictures(replace(shorten, spells=(odd, *shorten.spells[1:])))[0]
    assert "$x^$" in timeline.svg


@given(st.lists(st.tuples(st.floats(0, 200), st.sampled_from([9.0, 18.0])), min_size=1, max_size=9))
def test_labels_never_overlap_and_stay_in_order(labels: list[tuple[float, float]]) -> None:
    labels.sort()
    wanted, room = [want for want, _ in labels], [size for _, size in labels]
    placed = moved_apart(wanted, room)
    for (low, below), (high, above) in pairwise(zip(placed, room, strict=True)):
        assert high - low >= (below + above) / 2 - 1e-6


def test_labels_with_room_stay_where_they_are() -> None:
    assert moved_apart([10.0, 50.0], [9.0, 9.0]) == [10.0, 50.0]


def test_thinning_keeps_ends_and_peaks() -> None:
    minutes = np.arange(5000.0)
    values = np.sin(minutes / 300)
    values[1234], values[4321] = 9.0, -9.0
    kept_minutes, kept = thinned(minutes, values, most=300)
    assert len(kept) <= 302
    assert (kept.max(), kept.min()) == (9.0, -9.0)
    assert (kept_minutes[0], kept_minutes[-1]) == (0.0, 4999.0)


def test_neighbouring_spells_with_one_word_are_one_stretch(shorten: Plan) -> None:
    joined = stretches(shorten, [spell.cooling for spell in shorten.spells])
    assert [word for _, _, word in joined] == ["facility", "pack", "facility"]
    assert joined[0][0] == 0
    assert joined[-1][1] == shorten.duration
    assert all(a[1] == b[0] for a, b in pairwise(joined))
