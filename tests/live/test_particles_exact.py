"""Our choosing and weighing against an exact answer: the Nile's flow as a random walk in noise.

Annual flow of the Nile at Aswan, 1871 to 1970 [1e8 m3], and the local level model with its
published variances and likelihood: Durbin and Koopman 2012, Time Series Analysis by State Space
Methods, 2nd edition, section 2.2 and table 2.1 (series and figures from memory; that the exact
filter below gives the published likelihood shows that series and variances are right).
"""

from __future__ import annotations

import numpy as np
import pytest

from neckring.live.resampling import effective, scaled, systematic

NILE = """
1120 1160 963 1210 1160 1160 813 1230 1370 1140 995 935 1110 994 1020 960 1180 799 958 1140
1100 1210 1150 1250 1260 1220 1030 1100 774 840 874 694 940 833 701 916 692 1020 1050 969
831 726 456 824 702 1120 1100 832 764 821 768 845 864 862 698 845 744 796 1040 759
781 865 845 944 984 897 822 1010 771 676 649 846 812 742 801 1040 860 874 848 890
744 749 838 1050 918 986 797 923 975 815 1020 906 901 1170 912 746 919 718 714 740
"""
FLOW = np.array([float(word) for word in NILE.split()])
NOISE, WALK = 15099.0, 1469.1
PUBLISHED = -632.54
PARTICLES = 4000


@pytest.fixture(scope="module")
def exact():
    """Kalman filter from a diffuse start: means, variances, log-likelihood without the first."""
    mean, variance, total = FLOW[0], NOISE, 0.0
    means, variances = [mean], [variance]
    for flow in FLOW[1:]:
        variance += WALK
        spread = variance + NOISE
        total -= 0.5 * (np.log(2.0 * np.pi * spread) + (flow - mean) ** 2 / spread)
        mean += variance / spread * (flow - mean)
        variance *= NOISE / spread
        means.append(mean)
        variances.append(variance)
    return np.array(means), np.array(variances), total


@pytest.fixture(scope="module")
def ours():
    """The same by particles that are weighed, and chosen anew when they grow too few."""
    draw = np.random.default_rng(1)
    level = FLOW[0] + np.sqrt(NOISE) * draw.standard_normal(PARTICLES)
    weights = np.full(PARTICLES, 1.0 / PARTICLES)
    means, variances, total = [FLOW[0]], [NOISE], 0.0
    for flow in FLOW[1:]:
        level = level + np.sqrt(WALK) * draw.standard_normal(PARTICLES)
        logs = -0.5 * ((flow - level) ** 2 / NOISE + np.log(2.0 * np.pi * NOISE))
        total += np.log(weights @ np.exp(logs))
        weights = scaled(weights, logs)
        means.append(weights @ level)
        variances.append(weights @ (level - means[-1]) ** 2)
        if effective(weights) < 0.5 * PARTICLES:
            level = level[systematic(weights, PARTICLES, draw.random())]
            weights = np.full(PARTICLES, 1.0 / PARTICLES)
    return np.array(means), np.array(variances), total


def test_the_exact_filter_gives_the_published_likelihood(exact):
    assert len(FLOW) == 100
    # The first year only sets the diffuse start and adds nothing.
    assert exact[2] == pytest.approx(PUBLISHED, abs=0.01)


def test_particles_find_the_exact_level_and_its_doubt(exact, ours):
    # Standard error of a mean of so many particles, of which half may count.
    error = np.sqrt(exact[1] / (0.25 * PARTICLES))
    assert np.all(np.abs(ours[0] - exact[0]) < 5.0 * error)
    assert np.allclose(ours[1], exact[1], rtol=0.25)
    assert ours[1][10:].mean() == pytest.approx(exact[1][10:].mean(), rel=0.03)


def test_particles_find_the_exact_likelihood(exact, ours):
    assert ours[2] == pytest.approx(exact[2], abs=0.5)
