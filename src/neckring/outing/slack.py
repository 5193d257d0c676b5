"""Slack of every failure at every minute, from the clocks of drawn members."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from neckring.outing.branches import Clocks, spot_at
from neckring.outing.draws import dimensions, drawn, sobol_points
from neckring.outing.ensemble import FIRST_MEMBERS, PACE, FailureMap
from neckring.outing.failures import FAILURES, Failure
from neckring.outing.gathered import in_order
from neckring.outing.help_clock import ends_in_cooling, help_clock
from neckring.outing.instants import unbroken
from neckring.outing.outlook import QUANTILES, FailureFinding, LimitChance, Moment, Relief
from neckring.outing.scenario import Scenario
from neckring.outing.trunk import instants_of
from neckring.outing.watching import AIR, HEAT, RELIEFS

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def quantiles(values: FloatArray, shares: tuple[float, ...]) -> FloatArray:
    """Quantiles over members, the last axis, as shape (shares, ...); infinities are numbers too.

    Source: the inverse of the empirical distribution function, definition 1 of Hyndman and Fan
        1996, The American Statistician 50:361; it never mixes two members.
    """
    return np.asarray(np.quantile(values, shares, axis=-1, method="inverted_cdf"))


def findings(found: FailureMap) -> tuple[FailureFinding, ...]:
    """Every failure held against help, the one with the least slack beyond its reserve first."""
    made = []
    people = _first_members(found)
    for failure in FAILURES:
        if failure.code in found.drawn.clocks:
            clocks = in_order(found.drawn.clocks[failure.code])
            helps = _helps(found, failure, people)
            reliefs = _reliefs(found, failure, clocks)
            made += [_finding(found, failure, clocks, helps, reliefs, r) for r in reliefs]
    return tuple(sorted(made, key=lambda f: f.worst.slack - f.reserve))


def _first_members(found: FailureMap) -> Scenario:
    """The first members drawn."""
    question = found.question
    count = min(found.drawn.members, FIRST_MEMBERS)
    columns = len(dimensions(question.scenario))
    return drawn(question.scenario, sobol_points(columns, 0, count, question.seed))


def _helps(found: FailureMap, failure: Failure, people: Scenario) -> list[FloatArray]:
    """Help clocks at every minute, shape (2, members): they cost so little that none is guessed."""
    instants = found.as_written[failure.code].instants
    return [help_clock(people, failure, spot_at(found.trunk, instant)) for instant in instants]


def _reliefs(found: FailureMap, failure: Failure, clocks: list[Clocks]) -> list[int]:
    """The reliefs worth a line: the failure's own, and any other that harm comes near."""
    own = AIR if failure.stops_air or "jammed helmet" in failure.hindrances else HEAT
    near = [
        relief
        for relief in RELIEFS
        if relief == own or any(np.isfinite(at.harm[relief]).any() for at in clocks)
    ]
    watched = set(found.trunk.rules.relief.tolist())
    return [relief for relief in near if relief in watched]


def _finding(
    found: FailureMap,
    failure: Failure,
    clocks: list[Clocks],
    helps: list[FloatArray],
    reliefs: list[int],
    relief: int,
) -> FailureFinding:
    reserve = float(found.question.reserves[relief])
    confidence = found.question.scenario.station.policy.confidence.nominal
    written = found.as_written[failure.code]
    grid = _Grid(written, clocks, reserve + PACE.beyond)
    harm = [at.harm[relief, 0] for at in clocks]
    help_ = [at.help[relief, 0] for at in clocks]
    slack = [at.slack()[relief, 0] for at in clocks]
    shares = (1.0 - confidence, *QUANTILES)
    slacks = grid.spread([quantiles(s, shares) for s in slack])
    kept = grid.spread([np.mean(s >= reserve, keepdims=True) for s in slack])
    both = len(reliefs) > 1
    return FailureFinding(
        code=failure.code + ("-air" if relief == AIR else "-heat") * both,
        words=failure.words,
        reserve=reserve,
        instants=grid.minutes,
        harm=grid.spread([quantiles(h, QUANTILES) for h in harm], _longest(help_)),
        help=np.stack([quantiles(at[relief], QUANTILES) for at in helps], axis=1),
        slack=slacks[1:],
        slack_at_confidence=slacks[0],
        slack_as_written=written.slack()[relief, :, 0],
        kept=kept[0],
        shortest_harm=_shortest(found, written),
        worst=_worst(found, failure, clocks, relief, 1.0 - confidence),
    )


def _longest(clocks: list[FloatArray]) -> float:
    """The longest that ends at all [s]."""
    return max(float(clock[np.isfinite(clock)].max(initial=0.0)) for clock in clocks)


class _Grid:
    """Carries values from the instants computed to every minute, by straight lines."""

    def __init__(self, written: Clocks, clocks: list[Clocks], endless: float) -> None:
        self.minutes = np.array([instant.time for instant in written.instants])
        self._runs = written.runs
        self._times = np.array([at.instants[0].time for at in clocks])
        self._of = np.array([int(at.runs[0]) for at in clocks])
        self._endless = endless

    def spread(self, values: list[FloatArray], more: float = 0.0) -> FloatArray:
        """Values (rows,) at each instant computed, as (rows, minutes).

        Args:
            values: At each instant.
            more: How much further than slack they are computed [s].
        """
        known = np.stack(values, axis=1)
        endless = self._endless + more
        capped = np.clip(known, -endless, endless)
        capped = np.where(np.isfinite(known), known, capped)
        table = np.empty((len(known), len(self.minutes)))
        for run in unbroken(self._runs):
            here = np.flatnonzero(self._of == self._runs[run[0]])
            at, minutes = self._times[here], self.minutes[run]
            for row in range(len(known)):
                line = np.interp(minutes, at, capped[row, here])
                for never in (np.inf, -np.inf):
                    share = np.interp(minutes, at, (known[row, here] == never) * 1.0)
                    line = np.where(share >= 1.0, never, line)
                table[row, run] = line
        return table


def _shortest(found: FailureMap, written: Clocks) -> dict[str, float]:
    """Quantity to its shortest harm clock as written [s]."""
    shortest: dict[str, float] = {}
    if written.each is None:
        return shortest
    for limit, times in zip(found.trunk.rules.limits, written.each, strict=True):
        least = float(times.min())
        shortest[limit.quantity] = min(least, shortest.get(limit.quantity, np.inf))
    return shortest


def _worst(
    found: FailureMap, failure: Failure, clocks: list[Clocks], relief: int, share: float
) -> Moment:
    """The moment with the least slack: the member at that share of all, told as it is."""
    slack = [at.slack()[relief, 0] for at in clocks]
    least = [float(quantiles(s, (share,))[0]) for s in slack]
    longest = [float(at.help[relief].max()) for at in clocks]
    # Where nothing is crossed anywhere, the moment when help is longest in coming.
    place = min(range(len(clocks)), key=lambda n: (least[n], -longest[n]))
    at = clocks[place]
    member = int(np.argsort(slack[place], kind="stable")[_rank(share, slack[place].size)])
    number = int(at.limit[relief, 0, member])
    spell = found.trunk.ready[at.instants[0].spell].spell
    return Moment(
        time=at.instants[0].time,
        place=spell.ends_at,
        limit=found.trunk.rules.limits[number].quantity if number >= 0 else "",
        relief=relief_words(found, failure, relief),
        harm=float(at.harm[relief, 0, member]),
        help=float(at.help[relief, 0, member]),
        slack=least[place],
    )


def _rank(share: float, members: int) -> int:
    """Place of a quantile among sorted members, as `quantiles` takes it."""
    return max(0, int(np.ceil(share * members - 1e-9)) - 1)


def relief_words(found: FailureMap, failure: Failure, relief: int) -> Relief:
    """What ends the harm."""
    if relief == AIR:
        return "fresh air at the face"
    return "cooling" if ends_in_cooling(found.question.scenario, failure) else "out of the suit"


def chances(found: FailureMap) -> tuple[LimitChance, ...]:
    """How likely each limit of the sheet is crossed when nothing fails, the likeliest first."""
    drawn, every = found.drawn, found.trunk.every
    if drawn.reached is None or drawn.crossings is None:
        return ()
    made = [
        LimitChance(
            quantity=limit.quantity,
            action=limit.action,
            value=float(every.value[number]),
            direction="above" if limit.stop_if == "above" else "below",
            chance=float(drawn.crossings[number] / drawn.members),
            reached=quantiles(drawn.reached[number], QUANTILES),
        )
        for number, limit in enumerate(every.limits)
    ]
    return tuple(sorted(made, key=lambda chance: -chance.chance))


def turn_back(found: FailureMap) -> float | None:
    """The last whole minute up to which every reserve is kept at the policy's confidence [s].

    None when not even the first one keeps it; the last minute of the run when all do.
    """
    confidence = found.question.scenario.station.policy.confidence.nominal
    kept = [
        instant.time
        for instant in instants_of(found.trunk.ready)
        if found.drawn.kept_until(instant.time) >= confidence
    ]
    return max(kept, default=None)
