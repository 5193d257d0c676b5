"""How fast the public programs are that neckring is measured against, on this machine, now.

A figure of ours means nothing without a peer's measured in the same run: each benchmark is kept as
a ratio. `bench/run.py` calls `compare` with our own work and `write_numbers` with what came out.
"""

from __future__ import annotations

import json
import os
import platform
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

REPEATS = 5
STEPS = 240
STEP = 60.0
"""Four hours of one-minute steps [s]: one body, output off."""
RESULTS = Path("build") / "bench.json"

Work = Callable[[], object]


def best_time(prepare: Callable[[], Work], repeats: int = REPEATS) -> float:
    """Shortest time of some work [s]; preparing it is not counted.

    Args:
        prepare: Makes the work anew for each repeat, so that none starts where another ended.
        repeats: How often.
    """
    return min(_timed(prepare()) for _ in range(repeats))


def _timed(work: Work) -> float:
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


@dataclass(frozen=True)
class Comparison:
    """Two works measured turn and turn about, so that a busy machine slows both.

    Attributes:
        ours: Amount of work per second.
        peers: The same of the peer.
    """

    ours: float
    peers: float

    @property
    def ratio(self) -> float:
        """How many times faster than the peer."""
        return self.ours / self.peers


def compare(
    prepare_ours: Callable[[], Work],
    our_amount: float,
    prepare_peer: Callable[[], Work],
    peer_amount: float,
    repeats: int = REPEATS,
) -> Comparison:
    """Best of several turns, ours and the peer's in alternation.

    Args:
        prepare_ours: Makes our work; compiling must have happened before.
        our_amount: What one run of it gets done, e.g. body-steps.
        prepare_peer: Makes the peer's work.
        peer_amount: What one run of that gets done, in the same measure.
        repeats: Turns.
    """
    turns = [(_timed(prepare_ours()), _timed(prepare_peer())) for _ in range(repeats)]
    ours, peers = (min(times) for times in zip(*turns, strict=True))
    return Comparison(our_amount / ours, peer_amount / peers)


def prepare_jos3(steps: int = STEPS) -> Work:
    """One resting body in jos3, made but not yet run."""
    import jos3

    model = jos3.JOS3()
    model.To, model.RH, model.Va, model.PAR = 35.0, 50.0, 0.1, 2.0
    return lambda: model.simulate(steps, dtime=STEP, output=False)


def prepare_pythermalcomfort(steps: int = STEPS) -> Work:
    """The same body in pythermalcomfort's version of the model."""
    from pythermalcomfort.models import JOS3

    model = JOS3()
    model.to, model.rh, model.v, model.par = 35.0, 50.0, 0.1, 2.0
    return lambda: model.simulate(steps, dtime=STEP, output=False)


def jos3_steps_per_second(repeats: int = REPEATS) -> float:
    """Body-steps per second of jos3 0.5.0: one body, four hours, output off, best of several."""
    return STEPS / best_time(prepare_jos3, repeats)


def pythermalcomfort_steps_per_second(repeats: int = REPEATS) -> float:
    """The same of pythermalcomfort 4.8.1."""
    return STEPS / best_time(prepare_pythermalcomfort, repeats)


def peer_numbers() -> dict[str, float]:
    """All peers alone, by name."""
    return {
        "peer jos3 steps per second": jos3_steps_per_second(),
        "peer pythermalcomfort steps per second": pythermalcomfort_steps_per_second(),
    }


def comparison_numbers(name: str, peer: str, measure: str, result: Comparison) -> dict[str, float]:
    """Three entries of the flat map for one comparison.

    Args:
        name: What of ours was measured, e.g. "one body".
        peer: Which program, e.g. "jos3".
        measure: Of what per second, e.g. "steps".
        result: What came out.
    """
    return {
        f"{name} {measure} per second": result.ours,
        f"{name} {measure} per second, {peer}": result.peers,
        f"{name} times faster than {peer}": result.ratio,
    }


def write_numbers(numbers: Mapping[str, float], path: Path = RESULTS) -> dict[str, float]:
    """Merge a flat map of name to number into the results file, and give all of it.

    Raises:
        ValueError: A value is no finite number.
    """
    bad = [name for name, value in numbers.items() if not _is_finite(value)]
    if bad:
        raise ValueError(f"no finite number: {', '.join(bad)}")
    known = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
    merged = dict(sorted({**known, **{n: float(v) for n, v in numbers.items()}}.items()))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(merged, indent=1) + "\n", encoding="utf-8")
    return merged


def _is_finite(value: float) -> bool:
    return float("-inf") < value < float("inf")


def machine() -> str:
    """One line about where the numbers were taken."""
    return f"{platform.machine()}, {os.cpu_count()} processors, Python {platform.python_version()}"


if __name__ == "__main__":
    for key, number in write_numbers(peer_numbers()).items():
        sys.stdout.write(f"{key:45s} {number:12.1f}\n")
    sys.stdout.write(f"{machine()}\n")
