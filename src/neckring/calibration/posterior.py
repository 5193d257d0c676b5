"""What one logged run tells of the scores of its suit and wearer: lines drawn through members.

Unknown are the scores of all doubts that a reading tells anything of, and the work factor of the
day at its knots. Their prior is normal. Readings are those of the kernel at these values, plus an
offset of each sensor that lasts the run, plus noise; both follow from the sensor's accuracy.
Members drawn from what is believed so far go through the run; straight lines through what they
would have read, with what the lines miss counted as an error of its own, make the problem one that
is solved exactly; and so on until nothing moves. Where the kernel bends or jumps (shivering sets
in) the lines miss much and the reading says little: no slope is believed that is not there.

Readings far off count less (Huber), and a channel of which many are far off is left out and named.

Source: iterated posterior linearisation: Garcia-Fernandez, Svensson, Morelande and Sarkka 2015,
IEEE Trans Signal Process 63:5561 (from memory); linear normal model: Bishop 2006, Pattern
Recognition and Machine Learning, section 2.3.3; weights: Huber 1964, Ann Math Stat 35:73.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from neckring.calibration.knowledge import Gaussian, Knowledge, Measurements, linear_posterior
from neckring.calibration.logged import Series
from neckring.calibration.replay import Course, replayed
from neckring.live.hidden_values import OWN_SPREADS
from neckring.live.likelihood import OFFSET_SHARE

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

FEWEST_MEMBERS, MEMBERS_EACH = 160, 5
"""At least so many members are drawn, and so many for each number asked."""
MOST_STEPS = 8
WHOLE_STEPS = 3
"""After so many steps only half of each is made, so that they do not go to and fro."""
STILL = 0.15
"""Nothing moves any more when numbers move by so little, in their standard deviations."""
FAR = 3.0
"""Innovations beyond so many standard deviations of the noise count less."""
FAR_SHARE = 0.35
"""A channel of which more is far off says something else than the model computes."""
MODEL_ERROR = 0.3
"""What the kernel's longer steps and straight lines add to the noise, in accuracies; assumed."""
PER_RUN = ("suit.reservoir.", "suit.battery.start_charge", "run.", "station.")
"""What is filled, chosen or blows anew each time is not carried from run to run."""
CARRIED_ALL_THE_SAME = ("suit.reservoir.ice_contact", "suit.reservoir.wall_conductance")


@dataclass(frozen=True, eq=False)
class Told:
    """What one run told.

    Attributes:
        course: The run.
        scores: Of all doubts, before and after; shape of the mean (columns + knots,).
        before: Prior.
        now: Posterior.
        left_out: Channel to why nothing was learned from it.
        far_off: Share of the readings used that counted less.
        settled: Whether the steps came to rest.
    """

    course: Course
    before: Gaussian
    now: Gaussian
    left_out: Mapping[str, str] = field(default_factory=dict)
    far_off: float = 0.0
    settled: bool = True

    @property
    def columns(self) -> int:
        """How many of the numbers are scores; the others are the work factor at the knots."""
        return self.course.doubts.columns


def score_names(course: Course) -> list[str | None]:
    """Name of each score in what is known from run to run; None for those of this run alone."""
    logged = course.logged
    names: list[str | None] = []
    for dimension in course.doubts.of:
        key = dimension.key
        if key.startswith(PER_RUN) and key not in CARRIED_ALL_THE_SAME:
            names.append(None)
        elif key.startswith("suit."):
            names.append(f"suit {logged.suit}: {key}")
        else:
            names.append(f"wearer {logged.wearer}: {key}")
    return names + [f"suit {logged.suit}: {own}" for own in OWN_SPREADS]


def prior_of(course: Course, known: Knowledge) -> Gaussian:
    """What is known before a run: its scores, then its work factor at the knots."""
    names = score_names(course)
    carried = [place for place, name in enumerate(names) if name is not None]
    known_now = known.of([name for name in names if name is not None])
    columns, knots = len(names), len(course.knots)
    mean, covariance = np.zeros(columns + knots), np.eye(columns + knots)
    mean[carried] = known_now.mean
    covariance[np.ix_(carried, carried)] = known_now.covariance
    covariance[columns:, columns:] = course.work_covariance()
    return Gaussian(mean, covariance)


def known_after(known: Knowledge, told: Told) -> Knowledge:
    """What is known once a run has been heard."""
    names = score_names(told.course)
    place = [at for at, name in enumerate(names) if name is not None]
    now = Gaussian(told.now.mean[place], told.now.covariance[np.ix_(place, place)])
    return known.told([name for name in names if name is not None], now)


def hear(course: Course, known: Knowledge, workers: int = 1) -> Told:
    """Learn from one run.

    Args:
        course: The run, with what was read.
        known: Of suits and wearers before.
        workers: Threads; the answer does not depend on them.
    """
    series, left_out = list(course.logged.series), dict(course.logged.left_out)
    while True:
        told, shares = _settled(course, known, series, workers)
        wrong = max(shares, key=lambda name: shares[name], default=None)
        if wrong is None or shares[wrong] <= FAR_SHARE:
            return Told(course, told.before, told.now, left_out, told.far_off, told.settled)
        left_out[wrong] = (
            f"{shares[wrong]:.0%} of its readings are far from anything the model can say: "
            "the sensor, or the kit, was not as written"
        )
        series = [each for each in series if each.channel != wrong]


def _settled(
    course: Course, known: Knowledge, series: list[Series], workers: int
) -> tuple[Told, dict[str, float]]:
    """Steps until nothing moves, and the share of each channel that is far off."""
    prior = prior_of(course, known)
    asked = _asked(course)
    part = Gaussian(prior.mean[asked], prior.covariance[np.ix_(asked, asked)])
    here, far, settled = part, _nothing_far(series), not series
    for number in range(MOST_STEPS if series else 0):
        lines = _lines(course, prior.mean, asked, here, series, workers)
        now, far = _solved(part, series, lines, robust=number > 0)
        moved = np.abs(now.mean - here.mean) / np.sqrt(np.diag(now.covariance))
        here = now if number < WHOLE_STEPS else _halfway(here, now)
        if number > 0 and float(np.sqrt((moved**2).mean())) < STILL:
            settled = True
            break
    shares = {one.channel: float(far[one.channel].mean()) for one in series}
    used = sum(len(one.values) for one in series)
    off = sum(float(each.sum()) for each in far.values()) / max(used, 1)
    return Told(course, prior, _whole(prior, asked, here), {}, off, settled), shares


def _halfway(one: Gaussian, other: Gaussian) -> Gaussian:
    return Gaussian(0.5 * (one.mean + other.mean), 0.5 * (one.covariance + other.covariance))


def _nothing_far(series: list[Series]) -> dict[str, BoolArray]:
    return {one.channel: np.zeros(len(one.values), dtype=bool) for one in series}


def _asked(course: Course) -> NDArray[np.int64]:
    """Places of the numbers that readings tell anything of."""
    scores = np.flatnonzero(~course.doubts.untold)
    knots = course.doubts.columns + np.arange(len(course.knots))
    return np.concatenate([scores, knots])


def _whole(prior: Gaussian, asked: NDArray[np.int64], now: Gaussian) -> Gaussian:
    """All numbers: those not asked keep what is known of them, but for what hangs together."""
    names = [str(place) for place in range(len(prior.mean))]
    joint = Knowledge(tuple(names), prior)
    return joint.told([names[place] for place in asked], now).of(names)


@dataclass(frozen=True, eq=False)
class _Line:
    """One channel's expected readings, made linear over the spread of what is believed.

    Attributes:
        there: Which rounds have a meaning, shape (rounds of the channel,).
        at_nought: Expected where all numbers are 0, in accuracies, shape (rounds there,).
        slopes: In accuracies, shape (rounds there, asked).
        missed: By how much each member misses the line, in accuracies, scaled so that products
            give the covariance, shape (members, rounds there).
    """

    there: BoolArray
    at_nought: FloatArray
    slopes: FloatArray
    missed: FloatArray

    @property
    def bent(self) -> FloatArray:
        """Covariance of what the line misses, in squared accuracies."""
        return np.asarray(self.missed.T @ self.missed)


def _lines(
    course: Course,
    mean: FloatArray,
    asked: NDArray[np.int64],
    here: Gaussian,
    series: list[Series],
    workers: int,
) -> dict[str, _Line]:
    """Straight lines through members drawn from what is believed, by channel.

    The same draws each time, so that the steps come to rest.
    """
    count, columns = len(asked), course.doubts.columns
    drawn = _standard_draws(count)
    root = np.linalg.cholesky(here.covariance)
    points = np.tile(mean, (len(drawn), 1))
    points[:, asked] = here.mean + drawn @ root.T
    found = replayed(course, points[:, :columns], points[:, columns:], workers)
    regressors = np.column_stack([np.ones(len(drawn)), drawn])
    projector = np.linalg.pinv(regressors)
    free = len(drawn) - count - 1
    lines = {}
    for one in series:
        rows = found[one.quantity][np.searchsorted(course.rounds, one.times)] / one.accuracy
        there: BoolArray = np.asarray(np.isfinite(rows).all(axis=1))
        answered = rows[there].T
        fitted = projector @ answered
        missed = answered - regressors @ fitted
        slopes = np.linalg.solve(root.T, fitted[1:]).T
        at_nought = fitted[0] - slopes @ here.mean
        lines[one.channel] = _Line(there, at_nought, slopes, missed / math.sqrt(free))
    return lines


def _standard_draws(numbers: int) -> FloatArray:
    """Standard normal draws and their mirror images, shape (members, numbers)."""
    half = max(FEWEST_MEMBERS // 2, int(MEMBERS_EACH * numbers / 2))
    found = np.random.default_rng((numbers, 6)).standard_normal((half, numbers))
    return np.concatenate([found, -found])


def _solved(
    prior: Gaussian, series: list[Series], lines: Mapping[str, _Line], robust: bool
) -> tuple[Gaussian, dict[str, BoolArray]]:
    """The linear problem solved exactly, and which readings are far off.

    What the lines miss is common to channels: one bend of the kernel moves several of them.
    """
    far, heard, told, errors = _nothing_far(series), [], [], []
    for one in series:
        line = lines[one.channel]
        if not line.there.any():
            continue
        said = one.values[line.there] / one.accuracy - line.at_nought
        weights, is_far = _weights(line, said, prior, robust)
        far[one.channel][line.there] = is_far
        heard.append(line)
        told.append(said)
        errors.append(channel_covariance(weights))
    if not heard:
        return prior, far
    missed = np.concatenate([line.missed for line in heard], axis=1)
    precision = np.linalg.inv(_blocks(errors) + missed.T @ missed)
    slopes = np.concatenate([line.slopes for line in heard])
    measured = Measurements(slopes, np.concatenate(told), precision)
    return linear_posterior(prior, [measured]), far


def _blocks(parts: Sequence[FloatArray]) -> FloatArray:
    """Square matrices along the diagonal of one."""
    ends = np.cumsum([0, *(len(part) for part in parts)])
    whole = np.zeros((int(ends[-1]), int(ends[-1])))
    for part, begin, end in zip(parts, ends[:-1], ends[1:], strict=True):
        whole[begin:end, begin:end] = part
    return whole


def _weights(
    line: _Line, told: FloatArray, prior: Gaussian, robust: bool
) -> tuple[FloatArray, BoolArray]:
    """Huber's weights, and which readings are far off; all 1 before a first step was made.

    A reading is far off when the channel's other readings and all that was known before cannot
    explain it: held against what this channel alone would make of it.
    """
    count = len(told)
    if not robust:
        return np.ones(count), np.zeros(count, dtype=bool)
    errors = channel_covariance(np.ones(count)) + line.bent
    spread = line.slopes @ prior.covariance @ line.slopes.T
    # What is left of each reading once the channel has been explained as well as it can be.
    left = errors @ np.linalg.solve(spread + errors, told - line.slopes @ prior.mean)
    usual = np.sqrt(np.maximum(np.diag(errors @ np.linalg.solve(spread + errors, errors)), 1e-12))
    away = np.abs(left) / usual
    return np.minimum(1.0, FAR / np.maximum(away, 1e-9)), away > FAR


def channel_covariance(weights: FloatArray) -> FloatArray:
    """Covariance of one channel's errors, in squared accuracies: noise, and an offset for all.

    Args:
        weights: Of the readings, above 0 to 1, shape (readings,).
    """
    noise = (1.0 - OFFSET_SHARE + MODEL_ERROR**2) / weights
    return np.asarray(np.diag(noise) + OFFSET_SHARE)
