"""The outlook in one plain sentence."""

from __future__ import annotations

import numpy as np

from neckring.outing.ensemble import FailureMap
from neckring.outing.findings import Verdict
from neckring.outing.outlook import FailureFinding, Moment

# Shorter times are told in seconds [s].
IN_SECONDS = 120.0


def outlook_sentence(
    found: FailureMap, listed: tuple[FailureFinding, ...], kept: float, decided: Verdict
) -> str:
    """What fails, when, what is crossed first, by how much, and how surely help is in time.

    Args:
        found: The map.
        listed: Its findings, worst first.
        kept: Share of members that keep every reserve.
        decided: The verdict.
    """
    confidence = found.question.scenario.station.policy.confidence.nominal
    sure = (
        f"{_percent(kept)} of {found.drawn.members:,} drawn runs keep every reserve; "
        f"{_percent(confidence)} must"
    )
    if not listed:
        return f"No failure can happen in this run. {sure}."
    return f"{failure_sentence(listed[0])} {sure}."


def failure_sentence(finding: FailureFinding) -> str:
    """One failure at its worst moment, told."""
    at: Moment = finding.worst
    when = f"If {finding.words} at {at.time / 60.0:.0f} min ({at.place})"
    if np.isinf(at.harm):
        return (
            f"{when}, no limit is crossed before help has come and "
            f"{duration_words(finding.reserve)} more have passed: nothing else is closer."
        )
    limit = at.limit.replace("_", " ").replace("co2", "CO2").replace("o2", "O2")
    crossed = f"the limit for {limit} is crossed {duration_words(at.harm)} later"
    if at.harm <= 0.0:
        crossed = f"the limit for {limit} is crossed already"
    help_ = f"{at.relief} takes {duration_words(at.help)}"
    if np.isinf(at.help):
        return f"{when}, {crossed} and nobody can bring {at.relief}."
    return f"{when}, {crossed} and {help_}: {_verdict_words(finding)}."


def _verdict_words(finding: FailureFinding) -> str:
    slack, reserve = finding.worst.slack, finding.reserve
    if slack < 0.0:
        return f"{duration_words(-slack)} too late"
    kept = f"{duration_words(reserve)} must be kept"
    return f"{duration_words(slack)} to spare, {kept}"


def duration_words(seconds: float) -> str:
    """Seconds when short, whole minutes when long."""
    if abs(seconds) < IN_SECONDS:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min"


def _percent(share: float) -> str:
    # Cut, not rounded: a share is never said to be greater than it is.
    return f"{np.floor(share * 1000.0 + 1e-9) / 10.0:g} %"
