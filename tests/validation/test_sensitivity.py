"""Sensitivity indices against functions whose indices are known exactly, and another program.

The analytic formulas are written out here, apart from the code.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import sobol_indices

from neckring.outing.draws import sobol_points
from neckring.outing.sensitivity import total_order

MEMBERS, SEED = 2**14, 20261128
ISHIGAMI = "Ishigami and Homma 1990 (ISUMA, doi 10.1109/ISUMA.1990.151285), a = 7, b = 0.1"
G_FUNCTION = (
    "Sobol' 1993 (Math Model Comput Exp 1:407); coefficients 0, 1, 4.5, 9, 99, 99, 99, 99 of "
    "Saltelli et al. 2010 (Comput Phys Commun 181:259; from memory)"
)
COEFFICIENTS = np.array([0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0])


def ishigami(points: np.ndarray) -> np.ndarray:
    x = np.pi * (2.0 * points - 1.0)
    return np.sin(x[:, 0]) * (1.0 + 0.1 * x[:, 2] ** 4) + 7.0 * np.sin(x[:, 1]) ** 2


def g_function(points: np.ndarray) -> np.ndarray:
    return np.prod((np.abs(4.0 * points - 2.0) + COEFFICIENTS) / (1.0 + COEFFICIENTS), axis=1)


def ishigami_indices() -> np.ndarray:
    a, b = 7.0, 0.1
    alone = np.array([0.5 * (1.0 + b * np.pi**4 / 5.0) ** 2, a**2 / 8.0, 0.0])
    together = 8.0 * b**2 * np.pi**8 / 225.0
    return (alone + together * np.array([1.0, 0.0, 1.0])) / (alone.sum() + together)


def g_function_indices() -> np.ndarray:
    alone = 1.0 / (3.0 * (1.0 + COEFFICIENTS) ** 2)
    every = np.prod(1.0 + alone)
    return alone * every / (1.0 + alone) / (every - 1.0)


@pytest.mark.parametrize("which", range(3))
def test_ishigami(outside_check, which):
    outside_check(
        area="sensitivity",
        name=f"total-order index {which + 1} of the Ishigami function",
        source=ISHIGAMI,
        expected=ishigami_indices()[which],
        obtained=total_order(ishigami, 3, MEMBERS, SEED).total[which],
        tolerance=0.005,
        kind="identity",
    )


@pytest.mark.parametrize("which", range(5))
def test_g_function(outside_check, which):
    outside_check(
        area="sensitivity",
        name=f"total-order index {which + 1} of the g-function",
        source=G_FUNCTION,
        expected=g_function_indices()[which],
        obtained=total_order(g_function, 8, MEMBERS, SEED).total[which],
        tolerance=0.005,
        kind="identity",
    )


def test_another_program_finds_the_same_from_the_same_points(outside_check):
    both = sobol_points(16, 0, 256, SEED)
    first, second = both[:, :8], both[:, 8:]
    swapped = np.stack([first] * 8)
    swapped[np.arange(8), :, np.arange(8)] = second.T
    values = {
        "f_A": g_function(first)[None],
        "f_B": g_function(second)[None],
        "f_AB": np.stack([g_function(points)[None] for points in swapped]),
    }
    theirs = sobol_indices(func=values, n=256).total_order
    ours = total_order(g_function, 8, 256, SEED).total
    outside_check(
        area="sensitivity",
        name="greatest difference of eight indices from the same 256 points",
        source="scipy.stats.sobol_indices (Saltelli et al. 2010)",
        expected=0.0,
        obtained=np.max(np.abs(ours - theirs)),
        tolerance=1e-12,
        kind="reference library",
    )


def test_the_interval_holds_the_truth_as_often_as_it_says(outside_check):
    """Quasi-random points scatter less than independent ones: the interval is rather too wide."""
    truth = ishigami_indices()
    held = 0
    for seed in range(100):
        found = total_order(ishigami, 3, 128, seed)
        held += int(np.sum((found.low <= truth) & (truth <= found.high)))
    outside_check(
        area="sensitivity",
        name="share of 90 % intervals that hold the exact index, 128 members, 100 seeds",
        source=ISHIGAMI,
        low=0.85,
        obtained=held / 300.0,
        kind="identity",
    )
