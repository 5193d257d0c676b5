"""What is known of suits and wearers so far, as one joint normal distribution of named scores.

A run tells of its suit and of its wearer at once, and leaves what is known of the two hanging
together; what a later run tells of the one then tells of the other too.

Source: marginals, conditionals and conjugate updates of the multivariate normal distribution:
Gelman et al. 2013, Bayesian Data Analysis, 3rd ed., section 14.2 and appendix A.1; Bishop 2006,
Pattern Recognition and Machine Learning, equations 2.81, 2.82 and 2.113 to 2.117 (both from
memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Gaussian:
    """A normal distribution.

    Attributes:
        mean: Shape (numbers,).
        covariance: Shape (numbers, numbers).
    """

    mean: FloatArray
    covariance: FloatArray

    @classmethod
    def standard(cls, numbers: int) -> Gaussian:
        """Independent, mean 0, variance 1: a score of which nothing is known but its spread."""
        return cls(np.zeros(numbers), np.eye(numbers))


@dataclass(frozen=True, eq=False)
class Measurements:
    """Measurements that are linear in what is asked.

    Attributes:
        slopes: Shape (measurements, numbers).
        told: What was measured, less what all numbers at nought would give, (measurements,).
        precision: Inverse covariance of their errors, shape (measurements, measurements).
    """

    slopes: FloatArray
    told: FloatArray
    precision: FloatArray


def linear_posterior(prior: Gaussian, measured: Iterable[Measurements]) -> Gaussian:
    """What is known after measurements whose errors are independent from part to part.

    Source: Bishop 2006, equations 2.116 and 2.117.
    """
    total = np.linalg.inv(prior.covariance)
    pulled = total @ prior.mean
    for part in measured:
        weighed = part.slopes.T @ part.precision
        total = total + weighed @ part.slopes
        pulled = pulled + weighed @ part.told
    covariance = np.linalg.inv(total)
    return Gaussian(covariance @ pulled, 0.5 * (covariance + covariance.T))


@dataclass(frozen=True, eq=False)
class Knowledge:
    """Named scores and their joint distribution; a name not there is a standard score.

    Attributes:
        names: Of the scores.
        joint: Their distribution, in that order.
    """

    names: tuple[str, ...] = ()
    joint: Gaussian = field(default_factory=lambda: Gaussian.standard(0))

    def with_names(self, names: Sequence[str]) -> Knowledge:
        """The same with more names, of which nothing is known yet."""
        new = [name for name in dict.fromkeys(names) if name not in self.names]
        old, count = len(self.names), len(self.names) + len(new)
        covariance = np.eye(count)
        covariance[:old, :old] = self.joint.covariance
        mean = np.concatenate([self.joint.mean, np.zeros(len(new))])
        return Knowledge((*self.names, *new), Gaussian(mean, covariance))

    def of(self, names: Sequence[str]) -> Gaussian:
        """What is known of some, in their order."""
        known = self.with_names(names)
        place = [known.names.index(name) for name in names]
        return Gaussian(known.joint.mean[place], known.joint.covariance[np.ix_(place, place)])

    def told(self, names: Sequence[str], now: Gaussian) -> Knowledge:
        """All that is known once some are known otherwise; what hangs on them follows.

        Args:
            names: Of those.
            now: Their distribution from now on.

        Source: Gelman et al. 2013, appendix A.1: the rest given some is linear in them, with a
            covariance of its own that their new distribution does not change.
        """
        known = self.with_names(names)
        place = [known.names.index(name) for name in names]
        mean, covariance = known.joint.mean.copy(), known.joint.covariance.copy()
        before = covariance[np.ix_(place, place)]
        gain = np.linalg.solve(before, covariance[place]).T
        moved = mean + gain @ (now.mean - mean[place])
        changed = covariance + gain @ (now.covariance - before) @ gain.T
        return Knowledge(known.names, Gaussian(moved, 0.5 * (changed + changed.T)))
