"""Durations of steps against the published formulas' worked values and large simulations.

The papers were not opened again: the formulas are from memory, the values worked out apart from
the code.
"""

from __future__ import annotations

import numpy as np
import pytest

from neckring.procedure.courses import Drawing
from neckring.procedure.durations import (
    Moments,
    later_of_two,
    lognormal_duration,
    pert,
    practised,
)
from neckring.procedure.model import Duration, Model, Variable
from neckring.procedure.steps import Procedure, Step, StepKind
from neckring.procedure.timing import times

AREA = "step timing"
APART = "(from memory), value worked out apart from the code"
PERT = f"Malcolm, Roseboom, Clark and Fazar 1959, Operations Research 7:646 {APART}"
LOGNORMAL = f"lognormal law, ln(90th percentile/median)/1.2816 {APART}"
WRIGHT = f"Wright 1936, Journal of the Aeronautical Sciences 3:122 {APART}"
CLARK = f"Clark 1961, Operations Research 9:145 {APART}"
DRAWN = "simulation: 1,000,000 pairs drawn from the normal distribution, tolerance five standard "
DRAWN += "errors"
RUNS = 1_000_000

CLARK_CASES = [
    (Moments(100.0, 10.0), Moments(100.0, 10.0), 0.0, 105.641896, 8.256453),
    (Moments(100.0, 10.0), Moments(90.0, 15.0), 0.0, 103.270980, 9.632478),
]


@pytest.mark.parametrize(
    ("quantity", "expected", "half"), [("mean", 5.0, 1e-9), ("deviation", 1.6667, 5e-5)]
)
def test_pert(outside_check, quantity, expected, half):
    outside_check(
        area=AREA,
        name=f"PERT {quantity} of 2, 4, 12",
        source=PERT,
        kind="from memory",
        unit="s",
        expected=expected,
        tolerance=half,
        obtained=getattr(pert(Duration(2.0, 4.0, 12.0)), quantity),
    )


def test_lognormal(outside_check):
    outside_check(
        area=AREA,
        name="lognormal sigma of median 10, 90th percentile 20",
        source=LOGNORMAL,
        kind="from memory",
        expected=0.5408,
        tolerance=5e-5,
        obtained=lognormal_duration(10.0, 20.0).sigma,
    )


@pytest.mark.parametrize(
    ("rate", "time", "expected"), [(0.8, 2, 0.8), (0.8, 10, 0.476510), (0.9, 10, 0.704688)]
)
def test_wright(outside_check, rate, time, expected):
    outside_check(
        area=AREA,
        name=f"learning rate {rate:g}: time number {time} over the first",
        source=WRIGHT,
        kind="from memory",
        expected=expected,
        tolerance=1e-6,
        obtained=practised(1.0, time, rate),
    )


@pytest.mark.parametrize(("one", "other", "correlation", "mean", "deviation"), CLARK_CASES)
def test_clark(outside_check, one, other, correlation, mean, deviation):
    found = later_of_two(one, other, correlation)
    for quantity, expected, obtained in (
        ("mean", mean, found.mean),
        ("standard deviation", deviation, found.deviation),
    ):
        outside_check(
            area=AREA,
            name=f"later of N({one.mean:g}, {one.deviation:g}) and "
            f"N({other.mean:g}, {other.deviation:g}): {quantity}",
            source=CLARK,
            kind="from memory",
            unit="s",
            expected=expected,
            tolerance=1e-6,
            obtained=obtained,
        )


@pytest.mark.parametrize(
    ("one", "other", "correlation"),
    [case[:3] for case in CLARK_CASES]
    + [
        (Moments(100.0, 10.0), Moments(90.0, 15.0), 0.6),
        (Moments(100.0, 10.0), Moments(101.0, 2.0), -0.8),
    ],
)
def test_clark_against_a_simulation(outside_check, one, other, correlation):
    # Given a million pairs
    first, own = np.random.default_rng(20).standard_normal((2, RUNS))
    second = correlation * first + np.sqrt(1.0 - correlation**2) * own
    later = np.maximum(one.mean + one.deviation * first, other.mean + other.deviation * second)
    found = later_of_two(one, other, correlation)
    # Then mean and standard deviation are those of the later ones, within five standard errors
    spread = later.std()
    fourth = ((later - later.mean()) ** 4).mean()
    error_of_spread = np.sqrt((fourth - spread**4) / RUNS) / (2.0 * spread)
    for quantity, expected, error, obtained in (
        ("mean", later.mean(), spread / np.sqrt(RUNS), found.mean),
        ("standard deviation", spread, error_of_spread, found.deviation),
    ):
        outside_check(
            area=AREA,
            name=f"later of N({one.mean:g}, {one.deviation:g}) and N({other.mean:g}, "
            f"{other.deviation:g}), correlation {correlation:g}: {quantity}, simulated",
            source=DRAWN,
            kind="identity",
            unit="s",
            expected=float(expected),
            tolerance=5.0 * float(error),
            obtained=obtained,
        )


def test_two_lanes_that_meet_against_a_simulation(outside_check):
    # Given two lanes of three steps each that meet, and the same drawn here by another way
    kit = Model("invented", (Variable("helmet", ("off", "on")),), ())
    points = Duration(10.0, 15.0, 40.0)
    steps = [
        Step(place + 1, place % 2, StepKind.MOVE, "move", duration=points) for place in range(6)
    ]
    steps.append(Step(7, -1, StepKind.MEET, "meet", meets=frozenset((0, 1))))
    procedure = Procedure(kit, (), ("dresser", "wearer"), tuple(steps))
    lean = 4.0 * (15.0 - 10.0) / 30.0
    drawn = 10.0 + 30.0 * np.random.default_rng(4).beta(1.0 + lean, 5.0 - lean, (2, 3, RUNS))
    later = drawn.sum(axis=1).max(axis=0)
    # When the procedure is timed, each step apart from the others
    found = times(procedure, Drawing(runs=100_000, correlation=0.0))
    # Then mean and 95th percentile agree within five standard errors of the smaller draw
    error = later.std() / np.sqrt(100_000)
    for quantity, expected, obtained, share in (
        ("mean", later.mean(), found.total.mean, 1.0),
        # A quantile of a bell curve at 95 % is known 2.1 times worse than its mean.
        ("95th percentile", np.quantile(later, 0.95), found.total.high, 2.1),
    ):
        outside_check(
            area=AREA,
            name=f"two lanes of three steps that meet: {quantity}",
            source="simulation: 1,000,000 runs drawn by numpy's own beta generator",
            kind="reference library",
            unit="s",
            expected=float(expected),
            tolerance=5.0 * share * float(error),
            obtained=obtained,
        )
