"""How long one round of the live estimate of two suits takes, beside a plain bootstrap over jos3.

The peer is what anybody would write first: a bootstrap filter (Gordon, Salmond and Smith 1993) in
a loop over the public body model, a minute for each of a few bodies, then weighed and chosen anew.
It has a bare body only: no suit, no water, no air, no failure and no look ahead.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from neckring.live.doing import Doing
from neckring.live.estimate import LiveEstimate
from neckring.live.likelihood import readings
from neckring.live.nearness import near_in_plan
from neckring.outing.scenario import Scenario
from neckring.outing.spells import legs
from neckring.station.loading import LoadedStation
from peers import compare, comparison_numbers

SUITS = 2
PARTICLES = 2000
MINUTE = 60.0
AT = 36.0 * MINUTE
ROUNDS = 3
PEER_PARTICLES = 20
RUN = "bench-climb"
WEIGHED = ("heart_rate", "water_inlet_temperature", "water_outlet_temperature", "water_flow")


class Suit:
    """One wearer's estimate on the way, weighed each minute by what its middle would show."""

    def __init__(self, station: LoadedStation, seed: int) -> None:
        run = station.runs[RUN]
        scenario = Scenario(
            station.station, station.suits[run.suit], station.wearers[run.wearer], run
        )
        near = near_in_plan(scenario, station.limits)
        self.estimate = LiveEstimate(scenario, station.limits, PARTICLES, seed, near=near)
        self.ends = np.cumsum([leg.duration for leg in legs(scenario)])
        self.time = 0.0
        while self.time < AT:
            self.weigh()

    def weigh(self) -> None:
        """One minute on, and weighed."""
        self.time += MINUTE
        number = int(np.searchsorted(self.ends, self.time, side="right"))
        doing = Doing(number, float(self.ends[number - 1]) if number else 0.0)
        self.estimate.advance(self.time, doing)
        members = self.estimate.cloud.members
        shown = readings(members, members.suited.ahead(doing, self.time).legs[0])
        said = {name: float(np.median(shown[name])) for name in WEIGHED if name in shown}
        self.estimate.weigh({name: (v, 0.02 * abs(v) + 1e-9) for name, v in said.items()})

    def round(self) -> None:
        """One whole round: a minute on, weighed, looked ahead."""
        self.weigh()
        self.estimate.estimated()


def bootstrap_over_jos3(particles: int = PEER_PARTICLES) -> Callable[[], object]:
    """One round of a plain bootstrap filter over bare bodies, made but not yet run."""
    import jos3

    draw = np.random.default_rng(1)
    bodies = [jos3.JOS3() for _ in range(particles)]
    for body in bodies:
        body.To, body.RH, body.Va = 35.0, 50.0, 0.1
        body.PAR = 2.0 * float(np.exp(0.1 * draw.standard_normal()))

    def one_round() -> list[int]:
        for body in bodies:
            body.simulate(1, dtime=MINUTE, output=False)
        skin = np.array([float(np.mean(body.Tsk)) for body in bodies])
        weights = np.exp(-0.5 * (skin - skin.mean()) ** 2 / 0.3**2)
        return list(draw.choice(particles, particles, p=weights / weights.sum()))

    return one_round


def estimate_rounds(station: LoadedStation) -> dict[str, float]:
    """Seconds of one round of two suits, and particle-minutes per second beside the peer's."""
    suits = [Suit(station, seed + 1) for seed in range(SUITS)]

    def both() -> None:
        with ThreadPoolExecutor(SUITS) as pool:
            list(pool.map(Suit.round, suits))

    both()
    times = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        both()
        times.append(time.perf_counter() - begun)
    result = compare(
        lambda: both, SUITS * PARTICLES, bootstrap_over_jos3, PEER_PARTICLES, repeats=2
    )
    numbers = comparison_numbers("live estimate", "bootstrap over jos3", "particle-minutes", result)
    return {
        **numbers,
        "estimate_round_seconds": min(times),
        "estimate_round_vs_jos3_bootstrap": result.ratio,
    }
