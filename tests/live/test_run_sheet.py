"""What is carried out on the day, put together from the station's files."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest
from demo_day import demo, good_reading, sheet
from tests.station.faulty import Swap, write_demo

from neckring.live.run_sheet import run_sheet
from neckring.live.sheet_steps import listed_once
from neckring.procedure.listing import listed
from neckring.procedure.signal_words import SignalWord
from neckring.procedure.steps import StepKind
from neckring.station.fault import StationFaults
from neckring.station.loading import load_station
from neckring.station.pass_rule import read_pass_rule
from neckring.units import QuantityError

STARTER = Path(str(files("neckring.station"))) / "starter"


def test_the_demo_s_sheet_has_the_day_the_cards_and_both_wearers() -> None:
    day = sheet()
    assert day.order == ("dress", "changeover", "go", "return", "undress")
    assert {letter: wearer.code for letter, wearer in day.wearers.items()} == {"A": "W2", "B": "W1"}
    assert len(day.cards) == 10
    assert day.people["L1"] == "lead"
    assert [wearer.call_every for wearer in day.wearers.values()] == [300.0, 300.0]


def test_every_step_has_the_words_people_need() -> None:
    for procedure in (*sheet().procedures.values(), *sheet().cards.values()):
        for place, step in enumerate(procedure.steps, start=1):
            assert step.number == place
            assert step.words
            assert step.lanes
            if step.kind is StepKind.CHECK:
                assert step.say
                assert step.if_not
    cautions = {
        step.caution.word
        for procedure in sheet().procedures.values()
        for step in procedure.steps
        if step.caution
    }
    assert SignalWord.WARNING in cautions


def test_every_answer_written_in_the_demo_passes_its_own_rule() -> None:
    measured = [
        step
        for procedure in sheet().procedures.values()
        for step in procedure.steps
        if step.reads is not None
    ]
    assert len(measured) >= 50
    for step in measured:
        reading = good_reading(step)
        assert step.reads is not None
        assert step.reads.passes(step.reads.read(str(reading["value"]), str(reading["unit"])))


def test_procedures_made_exact_once_are_those_made_one_by_one() -> None:
    made = listed_once(demo().procedures, demo().kits)
    for code in ("undress", "air-lost"):
        assert made(code) == listed(code, demo().procedures, demo().kits)


def test_the_starter_has_a_console_for_one_wearer() -> None:
    day = run_sheet(load_station(STARTER), "first-run")
    assert day.letters == ("A",)
    assert day.order == ("put-on-helmet",)
    assert not day.cards
    # The run's own time between calls counts where the console names none
    assert day.wearers["A"].call_every == 300.0


@pytest.mark.parametrize(
    ("runs", "said"),
    [
        (("floor-survy", None), 'did you mean "floor-survey"?'),
        (("floor-survey", None), "as many runs as the console's procedures have wearers, 2"),
        (("floor-survey", "floor-survey"), "two runs of two wearers"),
    ],
)
def test_runs_that_do_not_go_together_are_refused(runs: tuple[str, str | None], said: str) -> None:
    with pytest.raises(StationFaults, match=r".") as told:
        run_sheet(demo(), *runs)
    assert any(said in str(fault) for fault in told.value.faults)


def test_a_suit_with_another_kit_and_a_station_without_a_console_are_refused(
    tmp_path: Path,
) -> None:
    write_demo(tmp_path)
    Swap("suits/dipper.yaml", "kit: dipper", "# kit: dipper")(tmp_path)
    with pytest.raises(StationFaults) as told:
        run_sheet(load_station(tmp_path), "floor-survey", "floor-partner")
    assert "with kit none" in str(told.value.faults[0])
    station = tmp_path / "station.yaml"
    text = station.read_text(encoding="utf-8")
    station.write_text(text[: text.index("# What the console serves")], encoding="utf-8")
    with pytest.raises(StationFaults) as told:
        run_sheet(load_station(tmp_path), "floor-survey", "floor-partner")
    assert "the key console" in str(told.value.faults[0])


@pytest.mark.parametrize(
    ("rule", "figure", "unit", "passes"),
    [
        ("16.0 V or more", 16.0, "V", True),
        ("16.0 V or more", "15999", "mV", False),
        ("12 degC or less", "53.6", "degF", True),
        ("12 degC or less", 12.1, "degC", False),
        ("15.5..16.8 V", 15.5, "V", True),
        ("15.5..16.8 V", 16.81, "V", False),
        ("0 kPa", 0, "kPa", True),
        ("0 kPa", 0.1, "kPa", False),
        ("1.2 L/min or more", "0.02", "L/s", True),
        ("40..130 bpm", 72, "/min", True),
        ("25 %", 25, "%", True),
    ],
)
def test_a_pass_rule_is_held_in_whatever_unit_is_read(
    rule: str, figure: float | str, unit: str, passes: bool
) -> None:
    asked = read_pass_rule(rule)
    assert asked.passes(asked.read(figure, unit)) is passes


@pytest.mark.parametrize("figure", ["", "lots", "1,5", "1..2", "3 +/- 1", float("nan")])
def test_a_figure_that_is_none_is_refused(figure: float | str) -> None:
    with pytest.raises(QuantityError):
        read_pass_rule("16.0 V or more").read(figure, "V")
