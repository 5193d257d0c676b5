"""A plan takes from the kit and its procedures what help takes."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import neckring.station
from neckring.outing.outlook_assumptions import outlook_assumptions
from neckring.outing.scenario import Scenario
from neckring.proved_help import ASKED, with_proved_help
from neckring.station.help import ProvedHelp
from neckring.station.loading import LoadedStation, load_station
from neckring.station.suit import Suit

DEMO = Path(neckring.station.__file__).parent / "demo"


@cache
def demo() -> LoadedStation:
    return load_station(DEMO)


@cache
def proved() -> Suit:
    return with_proved_help(demo(), demo().suits["dipper"])


def test_every_time_that_the_kit_gives_is_taken_and_no_other() -> None:
    before, after = demo().suits["dipper"].help_times, proved().help_times
    assert isinstance(after, ProvedHelp)
    assert set(after.origins) == {asked.key for asked in ASKED}
    for key in type(before).model_fields:
        if key not in after.origins:
            assert getattr(after, key) is getattr(before, key)
    assert not set(after.origins) & set(after.assumed)


def test_a_time_lies_between_the_sums_of_the_acts_at_their_shortest_and_longest() -> None:
    kit, times = demo().kits["dipper"], proved().help_times
    assert isinstance(times, ProvedHelp)
    for key, origin in times.origins.items():
        acts = origin.partition(": ")[2].split(", then ")
        moves = [kit.moves[act.partition(" on ")[0]] for act in acts]
        quantity = getattr(times, key)
        assert abs(quantity.low - sum(move.takes.low for move in moves)) < 1e-6
        assert abs(quantity.high - sum(move.takes.high for move in moves)) < 1e-6


def test_the_report_says_where_the_times_come_from() -> None:
    run = demo().runs["floor-survey"]
    scenario = Scenario(demo().station, proved(), demo().wearers[run.wearer], run)
    said = [line.statement + " " + line.source for line in outlook_assumptions(scenario)]
    assert any("undress" in line and "procedure go and kit dipper" in line for line in said)
    assert any("the other times of help come" in line for line in said)


def test_a_suit_without_a_kit_keeps_its_own_times() -> None:
    bare = demo().suits["dipper"].model_copy(update={"kit": None})
    assert with_proved_help(demo(), bare) is bare


def test_a_failed_pump_is_not_mended_by_turning_it_off_and_on() -> None:
    times = proved().help_times
    assert isinstance(times, ProvedHelp)
    assert "start_pump" not in times.origins["connect"]
