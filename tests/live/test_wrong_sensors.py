"""A wrong sensor does not move the estimate beyond its band: the band still holds the truth.

Worlds in which one sensor is wrong. What is stated of the turn-back time eight minutes later must
hold the truth as often as where all sensors are sound. What is wrong is passed on as it is: no
reading is kept out for being frozen or for having jumped. Whether the middle stays within the band
of the sound world is printed, and not asked for: with as few particles it moves as much by chance.
`make test` looks at a few ways in one world; `NECKRING_SOAK=1` at every way of every sensor in
several, and takes an hour.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import cache

import pytest
from hidden_worlds import DEMO, GAUGES, MINUTE, World, demo_run, world
from wrong_sensors import BEGINS, Wrong, as_passed_on, slips, ways

from neckring.live.estimate import turn_back_band
from neckring.live.estimated import Band

SOAK = os.environ.get("NECKRING_SOAK") == "1"
SEEDS = range(401, 405) if SOAK else range(402, 403)
PARTICLES = 512 if SOAK else 320
ENDS = BEGINS + 8.0 * MINUTE


@dataclass(frozen=True)
class Sound:
    """A world whose sensors are sound.

    Attributes:
        before: As it is when a sensor goes wrong.
        band: Of the turn-back time at the end.
        true: What is true of it at the end.
    """

    before: World
    band: Band
    true: float


def at_the_end(one: World) -> Band:
    """The stated band; now when no time is left."""
    return turn_back_band(one.estimate.look_ahead(), ENDS) or Band(ENDS, ENDS, ENDS)


@cache
def sound(seed: int) -> Sound:
    one = world(demo_run(), seed, PARTICLES, GAUGES)
    one.run(BEGINS)
    before = one.twin()
    one.run(ENDS, BEGINS)
    true = float(one.truth.looks_ahead(DEMO.limits).turn_back[0])
    return Sound(before, at_the_end(one), true)


def with_wrong(seed: int, wrong: Wrong) -> Band:
    """What is stated at the end when one sensor is wrong."""
    one = sound(seed).before.twin() if wrong.begins else world(demo_run(), seed, PARTICLES, GAUGES)
    one.run(wrong.begins) if not wrong.begins else None
    one.wrong[wrong.quantity] = as_passed_on(wrong.quantity, wrong.made())
    one.run(ENDS, wrong.begins)
    return at_the_end(one)


def held(seed: int, wrong: Wrong) -> bool:
    """Whether the band holds the truth; said at once, beside what is stated in the sound world."""
    right, band = sound(seed), with_wrong(seed, wrong)
    inside = right.band.low - 1.0 <= band.middle <= right.band.high + 1.0
    holds = band.low - 1.0 <= right.true <= band.high + 1.0
    minutes = [
        " ".join(f"{value / MINUTE:.1f}" for value in vars(one).values())
        for one in (right.band, band)
    ]
    print(
        f"{wrong.quantity} {wrong.way}, world {seed}: {minutes[0]} becomes {minutes[1]},"
        f" true {right.true / MINUTE:.1f}: middle {'inside' if inside else 'OUTSIDE'},"
        f" {'holds' if holds else 'MISSES'}",
        flush=True,
    )
    return holds


def ways_of(quantity: str, seed: int) -> tuple[Wrong, ...]:
    """Every way in which the sensor can be wrong, and a unit be mistaken for another."""
    return ways(quantity) + slips(quantity, sound(seed).before.truth.true()[quantity])


def test_a_band_holds_the_truth_although_a_sensor_is_wrong():
    # Given one sensor that is stuck, one that is far off and one that drifts,
    seed = SEEDS[0]
    picked = [ways("heart_rate")[0], ways("water_flow")[3], ways("water_outlet_temperature")[5]]
    # then the band is missed by one at most, as it may be by chance where all are sound.
    assert sum(held(seed, wrong) for wrong in picked) >= len(picked) - 1


@pytest.mark.skipif(not SOAK, reason="every sensor in every way: NECKRING_SOAK=1")
def test_bands_hold_the_truth_as_often_as_with_sound_sensors():
    found = {
        quantity: [held(seed, wrong) for seed in SEEDS for wrong in ways_of(quantity, seed)]
        for quantity in GAUGES
    }
    for quantity, all_held in found.items():
        print(f"{quantity}: {sum(all_held)} of {len(all_held)} bands hold the truth")
    assert sum(map(sum, found.values())) >= 0.85 * sum(map(len, found.values()))
