"""An invented look ahead: members drawn around simple clocks, so that its bands have true shapes.

Nothing here is a result of the model, nor a published value.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from neckring.outing.findings import Plan
from neckring.outing.outlook import (
    QUANTILES,
    Answer,
    Doubt,
    FailureFinding,
    LimitChance,
    Moment,
    Outlook,
    Relief,
)

RESERVE, AIR_RESERVE, COMPUTED, CONFIDENCE, MEMBERS = 600.0, 30.0, 1800.0, 0.99, 400
WALK = {"bay": 0.0, "yard": 130.0, "floor": 470.0, "bench": 800.0}  # s home from each place
Array = np.ndarray


@dataclass(frozen=True)
class Fault:
    """How one invented failure behaves, in seconds at rest and on the way."""

    code: str
    words: str
    limit: str
    harm: float
    help: float
    walks: float = 0.0  # how many times the way home
    air: bool = False
    rest: float = 1.0  # how much longer the harm clock runs at rest than at hard work
    spread: float = 0.12
    only: str = "pack"  # the source of cooling or air with which it can happen


FAULTS = (
    Fault("fans-stop", "the fans stop", "inspired_co2", 165, 62, air=True, rest=2.6),
    Fault("fan-weak", "one of two fans stops", "inspired_co2", 420, 62, air=True, rest=9.0),
    Fault("hose-off", "the air hose comes off", "inspired_co2", 205, 66, air=True, rest=2.6),
    Fault("locked", "the fans stop and the helmet does not unlock at the first try",
          "inspired_co2", 165, 128, air=True, rest=2.6, spread=0.16),
    Fault("battery-dead", "the battery dies: fans and pump stop together", "inspired_co2", 165,
          62, air=True, rest=2.6),
    Fault("pump-stops", "the pump stops", "heart_rate", 1750, 260, walks=1.0, rest=3.5),
    Fault("line-kinked", "the main line is kinked shut", "heart_rate", 1750, 260, walks=1.0,
          rest=3.5),
    Fault("leak", "water leaks out of the loop", "heart_rate", 2100, 260, walks=1.0, rest=3.5,
          spread=0.2),
    Fault("warm", "the reservoir was not chilled", "core_temperature", 3000, 260, walks=1.0,
          rest=1.6),
    Fault("down", "the wearer is down and must be carried", "core_temperature", 3600, 620,
          walks=2.4, rest=1.2, spread=0.2),
    Fault("slow", "the wearer walks slower than planned", "heart_rate", 2600, 260, walks=1.5,
          rest=3.0),
    Fault("supply-lost", "the facility supply is lost", "heart_rate", 9000, 240,
          only="facility"),
    Fault("silence", "the contact with the bay is lost", "heart_rate", 90000, 300, walks=1.0),
    Fault("umbilical", "the umbilical is snagged", "core_temperature", 90000, 300, only="tether"),
)  # fmt: skip


def with_outlook(plan: Plan, harm: float = 1.0, **changes: Any) -> Plan:
    """Give an invented plan an invented look ahead.

    Args:
        plan: Without one.
        harm: How much longer the harm clocks run than in the middling case.
        changes: Fields of the outlook to replace.

    Returns:
        The plan with its outlook.
    """
    failures = [_failure(plan, fault, harm) for fault in FAULTS]
    failures.sort(key=lambda one: one.worst.slack - one.reserve)
    made = _outlook(plan, tuple(failures))
    return replace(plan, outlook=replace(made, **changes))


def _per_minute(plan: Plan) -> tuple[Array, Array, list[str], Array]:
    """Sample each whole minute: time, work, source, way home."""
    time = np.arange(0.0, plan.duration, 60.0)
    trace = plan.trace
    rate = np.interp(
        time, trace["time"], np.convolve(trace["metabolic_rate"], np.ones(9) / 9)[4:-4]
    )
    spells = [next(s for s in plan.spells if s.ends > t) for t in time]
    before = [plan.spells[max(0, plan.spells.index(s) - 1)].place for s in spells]
    way = np.array([
        WALK[old] + (WALK[s.place] - WALK[old]) * (t - s.begins) / (s.ends - s.begins)
        for s, old, t in zip(spells, before, time, strict=True)
    ])  # fmt: skip
    return time, rate, [s.air if s.air != "none" else "off" for s in spells], way


def _failure(plan: Plan, fault: Fault, longer: float) -> FailureFinding:
    time, rate, source, way = _per_minute(plan)
    possible = np.array([word == fault.only for word in source])
    reserve = AIR_RESERVE if fault.air else RESERVE
    rng = np.random.default_rng(7 if fault.code != "leak" else 8)
    draws = np.exp(rng.normal(0, [[fault.spread], [0.1]], (2, MEMBERS)))
    ease = np.clip((450 - rate) / 330, 0, 1)
    harm = longer * fault.harm * fault.rest**ease * draws[0][:, None]
    helped = (fault.help + fault.walks * way * 1.2) * draws[1][:, None]
    beyond = harm - helped > reserve + COMPUTED
    harm = np.where(beyond, np.inf, harm)[:, possible]
    helped = helped[:, possible]
    return _finding(plan, fault, reserve, time[possible], harm, helped)


def _quantiles(members: Array, shares: Any) -> Array:
    return np.quantile(members, shares, axis=0, method="lower")


def _finding(
    plan: Plan, fault: Fault, reserve: float, time: Array, harm: Array, helped: Array
) -> FailureFinding:
    slack = harm - helped
    kept = _quantiles(slack, 1 - CONFIDENCE)
    at = int(kept.argmin()) if len(time) else 0
    relief: Relief = "fresh air at the face" if fault.air else "cooling"
    worst = Moment(0.0, "bay", fault.limit, relief, np.inf, fault.help, np.inf)
    if len(time):
        place = next(s.place for s in plan.spells if s.ends > time[at])
        worst_help = float(np.median(helped[:, at]))
        worst = Moment(
            float(time[at]), place, fault.limit, relief, float(kept[at] + worst_help), worst_help,
            float(kept[at]),
        )  # fmt: skip
    return FailureFinding(
        code=fault.code, words=fault.words, reserve=reserve, instants=time,
        harm=_quantiles(harm, QUANTILES), help=_quantiles(helped, QUANTILES),
        slack=_quantiles(slack, QUANTILES), slack_at_confidence=kept,
        slack_as_written=_quantiles(slack, 0.5), kept=(slack >= reserve).mean(axis=0),
        shortest_harm={fault.limit: float(np.median(harm, axis=0).min())} if len(time) else {},
        worst=worst,
    )  # fmt: skip


def _outlook(plan: Plan, failures: tuple[FailureFinding, ...]) -> Outlook:
    worst = failures[0]
    go = worst.worst.slack >= worst.reserve
    short = min(float(one.kept.min()) for one in failures if len(one.kept))
    return Outlook(
        members=2000, seed=20260514, confidence=CONFIDENCE, reserve=RESERVE,
        air_reserve=AIR_RESERVE, computed=COMPUTED, kept=short,
        verdict="go" if go else plan.verdict if plan.verdict != "go" else "shorten",
        sentence=f"If {worst.words} at minute {int(worst.worst.time // 60)}, help comes "
        + ("in time with the reserve to spare." if go else "too late to keep the reserve."),
        turn_back=None if plan.verdict == "no-go" else plan.duration - 60 if go else 33 * 60.0,
        failures=failures, chances=_chances(plan), doubts=DOUBTS, answers=ANSWERS, advice=ADVICE,
    )  # fmt: skip


def _chances(plan: Plan) -> tuple[LimitChance, ...]:
    shares = (0.0, 0.0, 0.08, 0.62, 0.004)
    spans = ((np.inf,) * 3, (np.inf,) * 3, (2900.0, np.inf, np.inf), (2280.0, 2460.0, np.inf),
             (np.inf,) * 3)  # fmt: skip
    return tuple(
        LimitChance(
            limit.quantity, limit.action, limit.value, limit.direction, share, np.array(span)
        )
        for limit, share, span in zip(plan.limits, shares, spans, strict=False)
    )


DOUBTS = (
    Doubt("the garment's conductance", "22 W/K +/- 6", 0.61, 0.52, 0.70, True),
    Doubt("the share of air that reaches the face", "0.72 +/- 0.08", 0.22, 0.15, 0.30, True),
    Doubt("how much slower the wearer walks in the suit", "1.10..1.30", 0.13, 0.07, 0.19, True),
    Doubt("the wearer's own sweating", "1 +/- 0.2", 0.05, 0.01, 0.09, False),
)
ANSWERS = (
    Answer("outing", "the longest safe outing", "62 min", "41 min", True, True),
    Answer("ice", "the least ice", "1.2 kg", "1.9 kg", True, True),
    Answer("flow", "the least water flow", "1.5 L/min", "nothing up to 4 L/min", False, False),
    Answer("tender", "where the tender must stand", "bay", "bay", True, False),
)
ADVICE = (
    "Measure the garment's conductance before the run: it carries 61 % of the doubt.",
    "Keep a tender at the foot of the bench while the wearer is on it.",
)
