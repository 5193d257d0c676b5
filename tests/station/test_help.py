"""Who helps and how long it takes: what is left out counts as assumed, and what is odd is told."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.station.faulty import BENCH, DIPPER, FLOOR, SITE, YARD, Spoil, Swap, write_demo

from neckring.station.help import ALONG, ASSUMED_HANDS, ASSUMED_HELP, Hands, Help
from neckring.station.loading import LoadedStation, load_station

FLOOR_HANDS = "help: {tender: floor, tenders: 2, tender_speed: 1.0..1.5 m/s, call_every: 5 min}\n"
OPEN_ALONE = Swap(DIPPER, "  open_helmet: 10..30 s ", "  # open_helmet: 10..30 s ")


WAITING = tuple(Swap(run, "tender: along", "tender: floor") for run in (BENCH, FLOOR))


def demo_with(folder: Path, *spoils: Spoil) -> LoadedStation:
    write_demo(folder)
    for spoil in (*WAITING, Swap(YARD, "tender: along ", "tender: yard ")):
        spoil(folder)
    for spoil in spoils:
        spoil(folder)
    return load_station(folder)


def test_a_suit_without_help_counts_as_assumed(tmp_path: Path) -> None:
    # Given a suit that says nothing of help
    write_demo(tmp_path)
    file = tmp_path / DIPPER
    file.write_text(file.read_text(encoding="utf-8").split("# What help takes")[0])
    # When it is read, then the assumed times stand for it, and say that they are assumed
    times = load_station(tmp_path).suits["dipper"].help_times
    assert times is ASSUMED_HELP
    assert times.open_helmet is None
    assert times.assumed == (
        *("notice_air", "notice", "open_helmet_by_other", "free_helmet", "connect"),
        *("free_umbilical", "undress", "undress_lying", "carry_speed"),
    )
    assert (times.notice_air.low, times.notice_air.high) == (5.0, 20.0)
    assert (times.notice.low, times.notice.high) == (30.0, 120.0)
    assert (times.open_helmet_by_other.low, times.open_helmet_by_other.high) == (5.0, 15.0)
    assert (times.free_helmet.low, times.free_helmet.high) == (60.0, 180.0)
    assert (times.connect.low, times.connect.high) == (30.0, 60.0)
    assert (times.free_umbilical.low, times.free_umbilical.high) == (20.0, 60.0)
    assert (times.undress.low, times.undress.high) == (120.0, 240.0)
    assert (times.undress_lying.low, times.undress_lying.high) == (180.0, 360.0)
    assert (times.carry_speed.low, times.carry_speed.high) == (0.3, 0.5)


def test_a_key_left_out_of_help_is_the_same_object_each_time() -> None:
    # Whoever draws a value for a quantity must meet that quantity again
    assert Help().undress is ASSUMED_HELP.undress
    assert Hands().tender_speed is ASSUMED_HANDS.tender_speed


def test_a_suit_takes_help_from_the_suit_it_extends() -> None:
    demo = load_station(Path(__file__).parents[2] / "src" / "neckring" / "station" / "demo")
    assert demo.suits["wagtail"].help_times == demo.suits["dipper"].help_times
    assert demo.suits["wagtail"].help_times.assumed == ()


def test_a_tender_who_is_not_placed_waits_where_the_run_begins(tmp_path: Path) -> None:
    hands = demo_with(tmp_path, Swap(FLOOR, FLOOR_HANDS, "")).runs["floor-survey"].hands
    assert (hands.tender, hands.tenders, hands.walks_along) == ("bay", 2, False)
    assert (hands.tender_speed.low, hands.tender_speed.high) == (1.0, 1.5)
    assert hands.call_every.nominal == 300.0
    assert hands.partner is None


def test_hands_of_the_demo_are_as_written(tmp_path: Path) -> None:
    demo = demo_with(tmp_path, Swap(BENCH, "tender: floor", f"partner: W2, tender: {ALONG}"))
    assert {code: run.hands.tender for code, run in demo.runs.items()} == {
        "yard-walk": "yard",
        "floor-survey": "floor",
        "floor-partner": ALONG,
        "bench-climb": ALONG,
    }
    assert demo.runs["bench-climb"].hands.walks_along
    assert demo.runs["bench-climb"].hands.partner == "W2"
    assert demo.runs["yard-walk"].hands.assumed == ()


def test_hands_say_what_is_assumed(tmp_path: Path) -> None:
    run = demo_with(tmp_path, Swap(BENCH, ", tenders: 2", "")).runs["bench-climb"]
    assert run.hands.assumed == ("tenders",)


def test_the_reserve_of_air_is_the_reserve_unless_it_is_written(tmp_path: Path) -> None:
    written = demo_with(tmp_path).station.policy
    assert written.air_reserve is not None
    assert written.air_reserve.nominal == 15.0
    assert written.lift_limit.nominal == pytest.approx(15.9)
    file = tmp_path / SITE
    lines = file.read_text(encoding="utf-8").splitlines()
    file.write_text("\n".join(x for x in lines if "air_reserve:" not in x and "lift_" not in x))
    policy = load_station(tmp_path).station.policy
    assert policy.air_reserve is None
    # 35 lb a helper, Waters 2007, American Journal of Nursing 107(8):53
    assert policy.lift_limit.nominal == pytest.approx(15.9)


def test_a_wearer_whom_nobody_can_give_air_is_a_warning(tmp_path: Path) -> None:
    # Given a suit whose wearer cannot open the helmet, and tenders who wait
    loaded = demo_with(tmp_path, OPEN_ALONE)
    # When it is read, then each run that goes where no tender stands is named
    told = {warning.file: (warning.field, warning.read) for warning in loaded.warnings}
    assert told == {
        BENCH: ("help.tender", "a tender at floor and the helmet on at yard"),
        FLOOR: ("help.tender", "a tender at floor and the helmet on at yard"),
    }
    assert "dipper has none" in loaded.warnings[0].hint


@pytest.mark.parametrize("better", ["tender: along", "tender: floor, partner: W3"])
def test_a_tender_or_partner_beside_the_wearer_is_no_warning(tmp_path: Path, better: str) -> None:
    loaded = demo_with(tmp_path, OPEN_ALONE, Swap(FLOOR, "tender: floor", better))
    assert {warning.file for warning in loaded.warnings} == {BENCH}


def test_the_warning_needs_no_help_group_to_point_at(tmp_path: Path) -> None:
    loaded = demo_with(tmp_path, OPEN_ALONE, Swap(FLOOR, FLOOR_HANDS, ""))
    (warning,) = (warning for warning in loaded.warnings if warning.file == FLOOR)
    assert warning.read == "a tender at bay and the helmet on at yard"


def test_an_assumed_time_that_cannot_be_beside_a_written_one_is_a_warning(tmp_path: Path) -> None:
    # Given 8 min to undress a wearer who stands, and nothing written for one who lies
    loaded = demo_with(
        tmp_path,
        Swap(DIPPER, "  undress: 2..4 min", "  undress: 8 min"),
        Swap(DIPPER, "  undress_lying:", "  # undress_lying:"),
    )
    # When it is read, then it is told once, though another suit extends this one
    (warning,) = loaded.warnings
    assert (warning.file, warning.field) == (DIPPER, "help.undress_lying")
    assert warning.accepted == "no less than undress, 8 min"
    assert warning.hint == "left out, it counts as 3..6 min"
