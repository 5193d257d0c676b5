"""How long harm against help takes, and how fast drawn members go beside a public program."""

from __future__ import annotations

import os
import time
from collections.abc import Callable

from neckring.outing.draws import dimensions, drawn, sobol_points
from neckring.outing.ensemble import TRUNK_STEP, Question, as_written, failure_map, in_threads
from neckring.outing.scenario import Scenario
from neckring.outing.spells import STEP, legs
from neckring.outing.trunk import run_trunk
from neckring.station.loading import LoadedStation
from peers import STEP as PEER_STEP
from peers import compare, comparison_numbers, prepare_jos3

MEMBERS = 512
PEER_MEMBERS = 4
# The demo outing, and the one whose clocks of heat take longest to run out.
RUNS = {"": "floor-survey", "_of_bench_climb": "bench-climb"}


def question_of(station: LoadedStation, code: str, members: int = MEMBERS) -> Question:
    """What `neckring plan` asks about a run of the demo."""
    run = station.runs[code]
    scenario = Scenario(station.station, station.suits[run.suit], station.wearers[run.wearer], run)
    return Question(scenario, station.limits, members)


def failure_maps(station: LoadedStation) -> dict[str, float]:
    """Every failure at every minute: of the run as written, and with 512 members drawn [s]."""
    workers = os.cpu_count() or 1
    as_written(question_of(station, "yard-walk"), workers)
    numbers = {}
    for ending, code in RUNS.items():
        asked = question_of(station, code)
        begun = time.perf_counter()
        as_written(asked, workers)
        single = time.perf_counter()
        failure_map(asked, in_threads(workers), workers)
        numbers[f"failure_map_single{ending}_seconds"] = single - begun
        numbers[f"failure_map{ending}_seconds"] = time.perf_counter() - single
    return numbers


def ensemble_against_jos3(station: LoadedStation) -> dict[str, float]:
    """Drawn members through the demo run, beside a loop over jos3 for as many body-minutes."""
    asked = question_of(station, "floor-survey")
    points = sobol_points(len(dimensions(asked.scenario)), 0, MEMBERS, asked.seed)
    scenario = drawn(asked.scenario, points)
    minutes = round(sum(leg.duration for leg in legs(asked.scenario)) / PEER_STEP)

    def prepare() -> Callable[[], object]:
        return lambda: run_trunk(scenario, asked.sheet, frozenset(), TRUNK_STEP)

    def prepare_loop() -> Callable[[], object]:
        bodies = [prepare_jos3(minutes) for _ in range(PEER_MEMBERS)]
        return lambda: [body() for body in bodies]

    run_trunk(asked.scenario, asked.sheet, frozenset(), STEP)
    result = compare(prepare, MEMBERS, prepare_loop, PEER_MEMBERS)
    numbers = comparison_numbers("ensemble", "jos3", "members", result)
    return {**numbers, "ensemble_vs_jos3": result.ratio}
