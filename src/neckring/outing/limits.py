"""Holding the signed limit sheet against a computed run."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from neckring.outing.findings import LimitFinding, Verdict
from neckring.station.limits import Limit

FloatArray = NDArray[np.float64]
Trace = dict[str, FloatArray]

# Severity of what a limit demands; the sheet's words.
SEVERITY = {"caution": 0, "turn back": 1, "stop now": 2}


def first_crossing(
    time: FloatArray, values: FloatArray, limit: float, above: bool, sustained: float
) -> float | None:
    """When a trace first stays beyond a limit for so long.

    Args:
        time: [s], shape (samples,), rising.
        values: Same shape; straight lines between the samples.
        limit: In the unit of the values.
        above: Whether the limit is crossed upward.
        sustained: How long it must hold [s].

    Returns:
        The time at which it has held for `sustained` [s], or None.
    """
    excess = (values - limit) if above else (limit - values)
    begun: float | None = None
    for place in range(len(time)):
        if excess[place] <= 0.0:
            begun = None
            continue
        if begun is None:
            begun = _crossing_time(time, excess, place)
        if time[place] - begun >= sustained:
            return begun + sustained
    return None


def _crossing_time(time: FloatArray, excess: FloatArray, place: int) -> float:
    if place == 0:
        return float(time[0])
    before, after = excess[place - 1], excess[place]
    share = before / (before - after)
    return float(time[place - 1] + share * (time[place] - time[place - 1]))


def hold(limit: Limit, age: float, trace: Trace) -> LimitFinding:
    """One limit held against the trace of one member.

    Args:
        limit: Of the signed sheet.
        age: The wearer's [years].
        trace: Column name to values, shape (samples,).
    """
    above = limit.stop_if == "above"
    values = trace[limit.quantity]
    value = limit.value_at(age)
    sustained = limit.sustained.nominal if limit.sustained else 0.0
    applies = np.isfinite(values) & judged(limit.quantity, trace)
    return LimitFinding(
        quantity=limit.quantity,
        direction="above" if above else "below",
        value=value,
        sustained=sustained,
        action=limit.action,
        reached=first_crossing(trace["time"][applies], values[applies], value, above, sustained),
        worst=float(values[applies].max() if above else values[applies].min()),
        source=limit.source,
        verified=limit.verified,
        signed_by=limit.signed_by,
        signed_on=limit.signed_on.isoformat(),
    )


def judged(quantity: str, trace: Trace) -> NDArray[np.bool_]:
    """Where a quantity can be held against its limit: water that enters a garment must flow.

    Args:
        quantity: Of the limit.
        trace: Column name to values, shape (samples,).

    Returns:
        True for the samples that count; all of them when none would.
    """
    everywhere = np.ones_like(trace["time"], dtype=np.bool_)
    if quantity != "water_inlet_temperature":
        return everywhere
    flowing = trace["water_flow"] > 0.0
    return flowing if flowing.any() else everywhere


def binding(findings: tuple[LimitFinding, ...], trace: Trace) -> LimitFinding | None:
    """The limit that decides.

    Args:
        findings: All limits held against the run.
        trace: Column name to values, shape (samples,).

    Returns:
        The first crossed limit that ends a run; when none is crossed, the one that comes nearest
        to it. Cautions decide only when the sheet holds nothing else.
    """
    ending = [finding for finding in findings if SEVERITY[finding.action] > 0] or list(findings)
    crossed = [finding for finding in ending if finding.reached is not None]
    if crossed:
        return min(crossed, key=lambda finding: (finding.reached, -SEVERITY[finding.action]))
    return max(ending, key=lambda finding: progress(finding, trace), default=None)


def progress(finding: LimitFinding, trace: Trace) -> float:
    """How far a run comes toward a limit, as a share of the way from where it starts."""
    start = float(trace[finding.quantity][0])
    way = finding.value - start
    return (finding.worst - start) / way if way else 1.0


def verdict(findings: tuple[LimitFinding, ...], work_begins: float) -> Verdict:
    """Whether the run may go as planned.

    Args:
        findings: All limits held against the run.
        work_begins: When the wearer first leaves the place of dressing [s].

    Returns:
        "go" when nothing that ends a run is crossed; "no-go" when something is crossed before the
        outing has begun, so that no shorter outing helps; otherwise "shorten".
    """
    ending = [
        finding.reached
        for finding in findings
        if finding.reached is not None and SEVERITY[finding.action] > 0
    ]
    if not ending:
        return "go"
    return "no-go" if min(ending) <= work_begins else "shorten"
