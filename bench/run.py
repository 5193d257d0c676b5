"""`make bench`: how fast neckring is, each figure beside a peer's from the same run.

Writes build/bench.json, a flat map of name to number.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from campaign import campaign_report
from console_load import console_load
from console_restart import console_restart
from estimating import estimate_rounds
from failure_map import ensemble_against_jos3, failure_maps
from ledger_queries import ledger_queries
from log_book import log_book
from neckring.outing.batch import Batch, Schedule, advance
from neckring.outing.plan import coldest, station_pressure
from neckring.outing.scenario import Scenario
from neckring.outing.spells import legs, schedule
from neckring.outing.wearing import dressed
from neckring.station.loading import LoadedStation, load_station
from peers import compare, comparison_numbers, prepare_jos3, write_numbers
from proving import demo_against_spin, demo_proofs, proved_again

COMMAND = str(Path(sys.executable).with_name("neckring"))
BATCH = 1600
SIZES = (1, 10, 100, 1_000, 10_000, 100_000)
HOURS = 4.0


def scenario(station: LoadedStation, code: str, members: int) -> Scenario:
    """A run of the demo station for many members at their nominal values."""
    run = station.runs[code]
    return Scenario(
        station.station,
        station.suits[run.suit],
        station.wearers[run.wearer],
        run,
        members,
        lambda quantity: np.full(members, quantity.nominal),
    )


def four_hours(one: Scenario, step: float) -> tuple[Batch, Schedule]:
    """A batch in the whole suit and four hours of one spell on the pack in the field."""
    ready = legs(one)
    pressure = station_pressure(one)
    batch = dressed(one, pressure, coldest(ready))
    place = next(n for n, leg in enumerate(ready) if leg.spell.spell == "kneel")
    plan = schedule(one, ready, pressure, step).part(place, place + 1)
    plan.spells[..., :16] = step
    return batch, plan.with_steps(np.array([round(HOURS * 3600.0 / step)]))


def kernel_against_jos3(station: LoadedStation) -> dict[str, float]:
    """Batch throughput with the whole suit on, against jos3's bare body; one core each."""
    batch, plan = four_hours(scenario(station, "floor-survey", BATCH), 60.0)
    advance(batch.copy(), plan.with_steps(np.array([2])))
    steps = int(plan.steps.sum())

    def prepare() -> Callable[[], object]:
        fresh = batch.copy()
        return lambda: advance(fresh, plan)

    result = compare(prepare, BATCH * steps, prepare_jos3, 240)
    numbers = comparison_numbers("suited batch", "jos3", "body-steps", result)
    return {**numbers, "body_steps_vs_jos3": result.ratio}


def single_body(station: LoadedStation) -> dict[str, float]:
    """One suited body, four hours at ten-second steps [s]."""
    batch, plan = four_hours(scenario(station, "floor-survey", 1), 10.0)
    times = []
    for _ in range(5):
        fresh = batch.copy()
        begun = time.perf_counter()
        advance(fresh, plan)
        times.append(time.perf_counter() - begun)
    return {"single_body_4h_10s_seconds": min(times)}


def growth(station: LoadedStation) -> dict[str, float]:
    """Time of the whole demo run, preparing included, from one to 100,000 members in chunks."""
    numbers = {}
    for size in SIZES:
        begun = time.perf_counter()
        left = size
        while left > 0:
            members = min(left, BATCH)
            one = scenario(station, "floor-survey", members)
            ready, pressure = legs(one), station_pressure(one)
            batch = dressed(one, pressure, coldest(ready))
            advance(batch, schedule(one, ready, pressure, 60.0), workers=os.cpu_count() or 1)
            left -= members
        numbers[f"run_of_{size}_members_seconds"] = time.perf_counter() - begun
    numbers["peak_memory_megabytes"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return numbers


def memory_per_member(station: LoadedStation) -> dict[str, float]:
    """Bytes of all kernel arrays for one member of the demo run [kB]."""
    one = scenario(station, "floor-survey", BATCH)
    ready, pressure = legs(one), station_pressure(one)
    batch = dressed(one, pressure, coldest(ready))
    plan = schedule(one, ready, pressure)
    arrays = (batch.state, batch.body, batch.whole, batch.traits, plan.spells, plan.around)
    return {"kilobytes_per_member": sum(a.nbytes for a in arrays) / BATCH / 1000.0}


def commands(folder: Path) -> dict[str, float]:
    """The two commands a user waits for, against the bare interpreter [s]."""
    demo = str(folder / "demo")
    subprocess.run([COMMAND, "new", demo, "--demo"], check=True, capture_output=True)
    plan = [COMMAND, "plan", "floor-survey", "--station", demo, "--report", str(folder / "r.html")]
    return {
        "plan_seconds": best_command(plan),
        "help_seconds": best_command([COMMAND, "--help"]),
        "bare_python_seconds": best_command([sys.executable, "-c", "pass"]),
    }


def best_command(command: list[str]) -> float:
    """Shortest of three runs of a command [s]."""
    times = []
    for _ in range(3):
        begun = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        times.append(time.perf_counter() - begun)
    return min(times)


MEASURES = (
    kernel_against_jos3,
    single_body,
    memory_per_member,
    growth,
    failure_maps,
    ensemble_against_jos3,
    demo_proofs,
    demo_against_spin,
    estimate_rounds,
)
WITHOUT_A_STATION = (log_book, console_restart, console_load, ledger_queries, campaign_report)


def main() -> None:
    """Run every benchmark and write the results."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        subprocess.run(
            [COMMAND, "new", str(folder / "station"), "--demo"], check=True, capture_output=True
        )
        station = load_station(folder / "station")
        for measure in MEASURES:
            print(f"{measure.__name__} ...", flush=True)
            write_numbers(measure(station))
        for measure in WITHOUT_A_STATION:
            print(f"{measure.__name__} ...", flush=True)
            write_numbers(measure())
        print("proved again ...", flush=True)
        write_numbers(proved_again(folder / "station"))
        print("commands ...", flush=True)
        merged = write_numbers(commands(folder))
    print(json.dumps(merged, indent=1))


if __name__ == "__main__":
    main()
