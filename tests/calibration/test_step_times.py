"""Step times from a log book: what counts, what is left out and why, and what is proposed."""

from __future__ import annotations

import pytest
from logged_runs import entry
from logged_worlds import DEMO

from neckring.calibration.step_times import (
    SENT_LATE,
    TOO_SHORT,
    Timed,
    step_times,
    timed_steps,
)
from neckring.calibration.written import normal_text, seconds_text, unit_of
from neckring.live.entries import Kind
from neckring.units import parse_quantity

PROCEDURE = DEMO.procedures["dress"]
KIT = DEMO.kits["dipper"]


def moves_of(lane: str) -> list[int]:
    """Printed numbers of the moves that one person does."""
    return [n for n, s in enumerate(PROCEDURE.steps, 1) if s.move and s.who == lane]


def done(number: int, time: float, step: int, late: float = 0.0):
    body = {"procedure": "dress", "step": step}
    return entry(number, time, Kind.STEP_DONE, body, late)


def timed(entries) -> list[Timed]:
    begun = entry(0, 100.0, Kind.PROCEDURE_BEGUN, {"procedure": "dress"})
    return list(timed_steps([begun, *entries], DEMO.procedures, "day"))


def test_a_step_lasts_from_the_one_before_in_its_lane():
    # given two steps of the tender with one of A between
    (t1, t2), (a1,) = moves_of("tender")[:2], moves_of("A")[:1]
    # when they are done
    found = timed([done(1, 110.0, t1), done(2, 113.0, a1), done(3, 125.0, t2)])
    # then each counts from the last record in its own lane
    assert [one.took for one in found] == [10.0, 13.0, 15.0]
    assert not any(one.left_out for one in found)


@pytest.mark.parametrize("kind", [Kind.HOLD, Kind.STOP, Kind.CARD_OPENED, Kind.RESTARTED])
def test_what_lay_between_is_left_out_with_its_reason(kind):
    t1, t2, t3 = moves_of("tender")[:3]
    between = entry(2, 111.0, kind, {"reason": "a word"})
    found = timed([done(1, 110.0, t1), between, done(3, 300.0, t2), done(4, 310.0, t3)])
    assert [bool(one.left_out) for one in found] == [False, True, False]


def test_late_taps_and_taps_at_once_tell_no_time():
    t1, t2, t3, t4 = moves_of("tender")[:4]
    found = timed(
        [
            done(1, 110.0, t1),
            done(2, 140.0, t2, late=20.0),
            done(3, 150.0, t3),
            done(4, 150.2, t4),
        ]
    )
    assert [one.left_out for one in found] == ["", SENT_LATE, SENT_LATE, TOO_SHORT]


def of_move(took: list[float]):
    name = next(iter(KIT.moves))
    (found,) = step_times([Timed("dipper", name, t, "day") for t in took], DEMO.kits)
    return KIT.moves[name].takes, found


def test_few_times_propose_nothing():
    written, found = of_move([30.0] * 4)
    assert (found.proposed, found.likely, found.number) == ("", None, 4)
    assert "4 of at least 5" in found.note
    assert written.low > 0.0


def test_some_times_widen_and_do_not_narrow():
    written, found = of_move([written_high * 1.5 for written_high in [KIT_HIGH] * 8])
    assert found.says_more
    assert found.proposed == seconds_text(written.low, KIT_HIGH * 1.5, KIT_HIGH * 1.5)


def test_many_times_may_narrow():
    written, found = of_move(
        [written_likely + 0.01 * n for n in range(25) for written_likely in [KIT_LIKELY]]
    )
    low, _, high = found.proposed.removesuffix(" s").split("..")
    assert float(low) >= int(KIT_LIKELY)
    assert float(high) <= max(KIT_LIKELY + 2.0, written.high)


def test_times_as_written_change_nothing():
    _, found = of_move([KIT_LIKELY] * 8)
    assert (found.says_more, found.proposed) == (False, "")


KIT_HIGH = next(iter(KIT.moves.values())).takes.high
KIT_LIKELY = next(iter(KIT.moves.values())).takes.likely


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("22 W/K +/- 6", "W/K"),
        ("20..60 W/K/kg", "W/K/kg"),
        ("7.8 Ah", "Ah"),
        ("2 L/min..3 L/min", "L/min"),
        ("1.05..1.20", ""),
    ],
)
def test_the_unit_is_that_which_stands_there(text, unit):
    assert unit_of(text) == unit


def test_a_number_is_written_back_in_its_unit():
    written = parse_quantity("190 L/min", "volume_flow")
    text = normal_text(185.0 / 60e3, 6.2 / 60e3, written)
    assert text == "185.0 L/min +/- 6.2"
    read = parse_quantity(text, "volume_flow")
    assert read.nominal == pytest.approx(185.0 / 60e3)
    assert read.deviation == pytest.approx(6.2 / 60e3)
