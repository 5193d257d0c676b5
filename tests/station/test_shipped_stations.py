"""The demo and the starter are valid, say what they are, and load as their comments promise."""

from __future__ import annotations

import datetime
import os
from importlib.resources import files
from pathlib import Path

import pytest
from tests.station.faulty import YARD, Swap, write_demo

from neckring.station.fault import StationFaults
from neckring.station.loading import load_station
from neckring.station.warnings import outdoor_oxygen

SHIPPED = Path(str(files("neckring.station")))


@pytest.mark.parametrize("which", ["demo", "starter"])
def test_shipped_stations_have_neither_fault_nor_warning(which: str) -> None:
    loaded = load_station(SHIPPED / which)
    assert loaded.warnings == ()
    assert loaded.station.invented is True


def test_the_demo_is_tarn_quarry() -> None:
    demo = load_station(SHIPPED / "demo")
    assert demo.station.name == "Tarn Quarry"
    assert set(demo.suits) == {"dipper", "wagtail"}
    assert set(demo.wearers) == {f"W{i}" for i in range(1, 7)}
    assert {"yard-walk", "floor-survey", "bench-climb"} <= set(demo.runs)


@pytest.mark.parametrize("file", sorted(SHIPPED.glob("demo/*/*.yaml")))
def test_every_suit_and_wearer_of_the_demo_says_that_it_is_invented(file: Path) -> None:
    if file.parent.name in ("suits", "wearers"):
        assert "invented" in file.read_text(encoding="utf-8").lower()


def test_no_wearer_carries_more_than_the_sheet_allows() -> None:
    # Given the demo's runs, suits and limits
    demo = load_station(SHIPPED / "demo")
    most = min(
        limit.value.nominal
        for limit in demo.limits.limits
        if limit.quantity == "load_fraction" and limit.action == "stop now"
    )
    for run in demo.runs.values():
        suit, wearer = demo.suits[run.suit], demo.wearers[run.wearer]
        worn = suit.mass.nominal + suit.pack_mass.nominal + suit.garment.water.nominal
        worn += suit.reservoir.water.nominal + suit.reservoir.ice.nominal
        # Then nobody is overloaded before the outing begins
        assert worn / wearer.mass.nominal < most


def test_wagtail_takes_from_dipper_what_it_does_not_state() -> None:
    demo = load_station(SHIPPED / "demo")
    dipper, wagtail = demo.suits["dipper"], demo.suits["wagtail"]
    assert wagtail.battery == dipper.battery
    assert wagtail.strap.width == dipper.strap.width
    assert wagtail.strap.contact_length.nominal == pytest.approx(0.22)
    assert wagtail.mass.nominal < dipper.mass.nominal


def test_a_spell_carries_on_what_it_does_not_state() -> None:
    outing = load_station(SHIPPED / "demo").runs["floor-survey"].outing
    dress, _, change, walk, *_ = outing
    assert (dress.cooling, dress.air, dress.helmet_on, dress.valve) == ("none", "none", False, None)
    assert (walk.cooling, walk.air, walk.helmet_on) == ("pack", "pack", True)
    assert change.valve is not None
    assert walk.valve is not None
    assert walk.valve.nominal == pytest.approx(0.6)
    assert (walk.starts_at, walk.ends_at, walk.places) == ("bay", "yard", ("bay", "yard"))
    assert change.places == ("bay",)


def test_a_path_is_walked_in_either_direction() -> None:
    station = load_station(SHIPPED / "demo").station
    up, down = station.path("floor", "bench"), station.path("bench", "floor")
    assert up is not None
    assert down is not None
    assert (up.rise, down.rise) == (38.0, -38.0)
    assert station.path("bay", "bench") is None


def test_a_limit_follows_the_age_of_the_wearer() -> None:
    sheet = load_station(SHIPPED / "demo").limits
    heart = next(limit for limit in sheet.limits if limit.quantity == "heart_rate")
    assert heart.value_at(40.0) == pytest.approx(140.0 / 60.0)
    assert heart.value_at(20.0) == pytest.approx(160.0 / 60.0)
    assert heart.crossed_by(141.0 / 60.0, 40.0)
    assert not heart.crossed_by(140.0 / 60.0, 39.0)
    assert heart.sustained is not None
    assert heart.sustained.nominal == 300.0
    assert heart.signed_on == datetime.date(2026, 11, 20)


def test_a_helmet_without_air_is_a_warning_told_once(tmp_path: Path) -> None:
    # Given a run with the helmet on before the air is
    write_demo(tmp_path)
    Swap(YARD, "cooling: facility, air: facility, helmet: on", "cooling: facility, helmet: on")(
        tmp_path
    )
    # When it is read, then it is usable, and the spell is named once
    warnings = load_station(tmp_path).warnings
    assert [warning.field for warning in warnings] == ["outing[2]"]
    assert "helmet on without air" in warnings[0].hint


def test_a_run_that_ends_elsewhere_is_a_warning(tmp_path: Path) -> None:
    write_demo(tmp_path)
    file = tmp_path / YARD
    lines = file.read_text(encoding="utf-8").splitlines()
    file.write_text("\n".join(lines[:-4]), encoding="utf-8")
    assert [warning.read for warning in load_station(tmp_path).warnings] == ["an end at yard"]


def test_an_oxygen_limit_above_the_air_of_a_high_station_is_a_warning(tmp_path: Path) -> None:
    write_demo(tmp_path)
    Swap("station.yaml", "altitude: 210 m", "altitude: 1500 m")(tmp_path)
    warnings = load_station(tmp_path).warnings
    assert [warning.field for warning in warnings] == ["limits[14].value"]
    assert "limit is always crossed" in warnings[0].hint


def test_outdoor_oxygen_falls_with_the_standard_atmosphere() -> None:
    # U.S. Standard Atmosphere 1976: 101325 Pa at 0 m, 89876 Pa at 1000 m, 79501 Pa at 2000 m;
    # oxygen 20.946 % by volume. Table values from memory.
    for altitude, pressure in ((0.0, 101325.0), (1000.0, 89876.0), (2000.0, 79501.0)):
        assert outdoor_oxygen(altitude) == pytest.approx(0.20946 * pressure, rel=1e-4)


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path) -> None:
    write_demo(tmp_path)
    for file in tmp_path.rglob("*.yaml"):
        file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes().replace(b"\n", b"\r\n"))
    assert load_station(tmp_path) == load_station(SHIPPED / "demo")


def test_anchors_and_merge_keys_work_within_reason(tmp_path: Path) -> None:
    # Given a path written with an anchor, and taken up with one key changed
    write_demo(tmp_path)
    Swap("station.yaml", "- {from: bay, to: yard,", "- &way {from: bay, to: yard,")(tmp_path)
    Swap("station.yaml", "\n# Chiller", "  - {<<: *way, to: floor}\n\n# Chiller")(tmp_path)
    # When it is read, then the rest is as in the first
    way = load_station(tmp_path).station.path("bay", "floor")
    assert way is not None
    assert (way.length.nominal, way.terrain) == (40.0, "blacktop")


def test_a_file_name_that_is_not_text_can_still_be_told(tmp_path: Path) -> None:
    write_demo(tmp_path)
    (tmp_path / "wearers" / os.fsdecode(b"W\xff.yaml")).write_bytes(b"")
    with pytest.raises(StationFaults) as told:
        load_station(tmp_path)
    (fault,) = told.value.faults
    assert str(fault).encode("utf-8").startswith(b"wearers/W\\udcff.yaml:1:1: file: read an empty")
