"""Looking ahead: does help come before harm, for every failure at every minute, and how surely?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from neckring.outing.branches import Clocks, Pace
from neckring.outing.cautions import CAUTIONS_WITH_FAILURES
from neckring.outing.cut_run import cut_at
from neckring.outing.draws import dimensions, drawn
from neckring.outing.ensemble import (
    FIRST_MEMBERS,
    PACE,
    TRUNK_STEP,
    FailureMap,
    Question,
    Runner,
    as_written,
    clearly_lost,
    drawn_members,
    failure_map,
    map_of,
)
from neckring.outing.failures import FAILURES
from neckring.outing.findings import Plan, Verdict
from neckring.outing.outlook import Doubt, FailureFinding, Outlook
from neckring.outing.outlook_assumptions import outlook_assumptions
from neckring.outing.plan import outing_begins
from neckring.outing.scenario import Scenario
from neckring.outing.sensitivity import doubts_of, measuring_advice, total_order
from neckring.outing.slack import chances, findings, turn_back
from neckring.outing.slack_words import outlook_sentence
from neckring.outing.trunk import MINUTE, instants_of, run_trunk
from neckring.outing.watching import AIR

FloatArray = NDArray[np.float64]

# Members of each matrix of the sensitivity's sample; there are two more than dimensions.
SENSITIVITY_MEMBERS = 128
# Shares of a variance forgive longer steps than clocks do.
SHARES_PACE = Pace(near=6.0, walking=30.0, waiting=60.0)
# Members that show when a run fails by far.
FEW_MEMBERS = 64
# From the most daring to the most careful.
VERDICTS: tuple[Verdict, ...] = ("go", "shorten", "no-go")


def look_ahead(
    question: Question,
    run: Runner,
    workers: int = 1,
    tell: Callable[[str], None] = lambda _: None,
) -> Outlook:
    """Hold harm against help for a whole run.

    Args:
        question: Who goes where, under which limits.
        run: Computes chunks of members.
        workers: Threads for what is not in chunks.
        tell: Told what is being done, for a person who waits.
    """
    found = failure_map(question, run, workers, tell)
    policy = question.scenario.station.policy
    listed = findings(found)
    kept = found.drawn.kept_until(np.inf)
    home_by = turn_back(found)
    if kept < policy.confidence.nominal and home_by is not None:
        home_by = proved_turn_back(found, home_by, run, workers, tell)
    decided = verdict_of(found, kept, home_by)
    tell("what carries the doubt")
    doubts = doubts_about(found, listed)
    return Outlook(
        members=found.drawn.members,
        seed=question.seed,
        confidence=policy.confidence.nominal,
        reserve=policy.reserve.nominal,
        air_reserve=float(question.reserves[AIR]),
        computed=PACE.beyond,
        kept=kept,
        verdict=decided,
        sentence=outlook_sentence(found, listed, kept, decided),
        turn_back=home_by,
        failures=listed,
        chances=chances(found),
        doubts=doubts,
        answers=(),
        advice=measuring_advice(doubts),
    )


def verdict_of(found: FailureMap, kept: float, home_by: float | None) -> Verdict:
    """Go when enough members keep every reserve; shorten when a shorter run would."""
    if kept >= found.question.scenario.station.policy.confidence.nominal:
        return "go"
    away = outing_begins(found.trunk.ready)
    return "no-go" if home_by is None or home_by <= away else "shorten"


def proved_turn_back(
    found: FailureMap,
    latest: float,
    run: Runner,
    workers: int = 1,
    tell: Callable[[str], None] = lambda _: None,
) -> float | None:
    """The latest minute at which a run that turns for home keeps every reserve to its end.

    Up to `latest` the planned run keeps them; the way home from there is computed with all its
    failures, and when it does not keep them an earlier minute is tried, halving what is left. On a
    path the wearer turns at its end: there the time is that of the arrival.

    Args:
        found: The map of the planned run.
        latest: Minute up to which the planned run keeps every reserve [s].
        run: Computes chunks of members.
        workers: Threads.
        tell: Told what is being done.
    """
    ready, scenario = found.trunk.ready, found.question.scenario
    away = outing_begins(ready)
    arrivals = np.cumsum([leg.duration for leg in ready]).tolist()
    whole = [instant.time for instant in instants_of(ready)]
    trials = sorted(time for time in {*whole, *arrivals} if away < time <= latest + 2.0 * MINUTE)
    cut = {time: cut_at(scenario, ready, time) for time in trials}
    runs = {time: run_cut for time, run_cut in cut.items() if run_cut is not None}
    times = list(runs)
    first, last = -1, len(times)
    trial = last - 1
    while last - first > 1:
        shorter = replace(found.question.scenario, run=runs[times[trial]])
        tell(f"turning for home at {times[trial] / MINUTE:.0f} min, with every failure")
        if keeps(replace(found.question, scenario=shorter), run, workers):
            first = trial
        else:
            last = trial
        trial = (first + last) // 2
    return times[first] if first >= 0 else None


def keeps(question: Question, run: Runner, workers: int = 1) -> bool:
    """Whether a run keeps every reserve at the policy's confidence, by the first members alone.

    A few members show at once when it does not by far.
    """
    _, written = as_written(question, workers)
    for members in (FEW_MEMBERS, FIRST_MEMBERS):
        few = replace(question, members=min(question.members, members))
        found = drawn_members(few, written, run)
        if clearly_lost(few, found):
            return False
    return found.kept_until(np.inf) >= question.scenario.station.policy.confidence.nominal


def doubts_about(found: FailureMap, listed: tuple[FailureFinding, ...]) -> tuple[Doubt, ...]:
    """What carries the doubt in the slack at the worst moment of the worst failure."""
    question = found.question
    shapes = dimensions(question.scenario)
    if not listed or not shapes:
        return ()
    worst = listed[0]
    code = next(failure.code for failure in FAILURES if failure.words == worst.words)
    wanted = {code: frozenset({worst.worst.time})}

    def slack(points: FloatArray) -> FloatArray:
        scenario = drawn(question.scenario, points)
        trunk = run_trunk(scenario, question.sheet, wanted[code], TRUNK_STEP, only_kept=True)
        clocks: Clocks = map_of(trunk, wanted, question.reserves, SHARES_PACE)[code]
        spare = clocks.margin(question.reserves)[:, 0].min(axis=0)
        return np.asarray(np.minimum(spare, PACE.beyond))

    indices = total_order(slack, len(shapes), SENSITIVITY_MEMBERS, question.seed)
    return doubts_of(shapes, indices)


def with_outlook(plan: Plan, outlook: Outlook, scenario: Scenario) -> Plan:
    """The plan with its outlook: the more careful verdict of both counts, and says why."""
    worse = VERDICTS.index(outlook.verdict) > VERDICTS.index(plan.verdict)
    return replace(
        plan,
        verdict=outlook.verdict if worse else plan.verdict,
        sentence=outlook.sentence if worse else plan.sentence,
        assumptions=(*plan.assumptions, *outlook_assumptions(scenario)),
        cautions=CAUTIONS_WITH_FAILURES,
        outlook=outlook,
    )
