"""Harm against help read back in words: clocks, moments, what is kept, what comes first.

The terminal, the page and the comparison all say these things the same way, so they are said here.
Harm and slack are rounded down and help up, so that none looks better than it is.
"""

from __future__ import annotations

import math
import textwrap

import numpy as np

from neckring.outing.findings import FloatArray, Plan
from neckring.outing.outlook import Answer, Doubt, FailureFinding, LimitChance, Outlook, Relief
from neckring.records.presentation import GAP, presentation_of
from neckring.records.reading import moment, whole_minutes

NEVER = "never in what is computed"
NO_HELP = "no help comes"
NOT_COMPUTED = "not computed"
AIR_RELIEF: Relief = "fresh air at the face"
ROUNDING = 1e-6


def span_words(seconds: float, up: bool = False, tenths_below: float = 600.0) -> str:
    """Write a length of time: whole seconds below two minutes, tenths of minutes up to ten.

    Args:
        seconds: Finite length of time, may be negative [s].
        up: Whether to round up instead of down.
        tenths_below: Up to where tenths of minutes are told [s].

    Returns:
        Number and unit.
    """
    unit, step, decimals = "min", 60.0, 0
    if abs(seconds) < 120:
        unit, step = "s", 1.0
    elif abs(seconds) < tenths_below:
        step, decimals = 6.0, 1
    turn = -1 if up else 1
    rounded = turn * math.floor(turn * seconds / step + ROUNDING) * step
    figure = f"{rounded / (1 if unit == 's' else 60):.{decimals}f}".removesuffix(".0")
    figure = "0" if figure == "-0" else figure
    return f"{figure}{GAP}{unit}".replace("-", "\N{MINUS SIGN}")


def reserve_words(seconds: float) -> str:
    """Write a reserve as it was signed, unrounded."""
    return f"{seconds:g}{GAP}s" if seconds < 120 else f"{seconds / 60:g}{GAP}min"


def more_than(seconds: float) -> str:
    """Write that a length of time is more than so much, in whole minutes where that is honest."""
    return f"more than {span_words(seconds)}"


def slack_words(slack: float, reserve: float, computed: float) -> str:
    """Write a slack.

    Args:
        slack: Harm less help [s]; infinite where no limit is crossed, or where no help comes.
        reserve: Kept free for that failure [s].
        computed: Slack beyond the reserve up to which clocks are computed [s].

    Returns:
        The slack in words; "more than ..." where it is beyond what is computed.
    """
    if math.isnan(slack):
        return NOT_COMPUTED
    if math.isinf(slack):
        return more_than(reserve + computed) if slack > 0 else NO_HELP
    return span_words(slack)


def harm_words(failure: FailureFinding, computed: float) -> str:
    """Write the harm clock at a failure's worst moment."""
    worst = failure.worst
    if math.isnan(worst.harm):
        return NOT_COMPUTED
    if math.isfinite(worst.harm):
        return span_words(worst.harm, tenths_below=_tenths_below(failure))
    known = math.isfinite(worst.help)
    return more_than(worst.help + failure.reserve + computed) if known else NEVER


def help_words(failure: FailureFinding) -> str:
    """Write the help clock at a failure's worst moment."""
    worst = failure.worst
    if math.isnan(worst.help):
        return NOT_COMPUTED
    if not math.isfinite(worst.help):
        return NEVER
    return span_words(worst.help, up=True, tenths_below=_tenths_below(failure))


def _tenths_below(failure: FailureFinding) -> float:
    """Tell clocks finely where the slack is small, so that one can be seen to exceed the other."""
    return 3600.0 if abs(failure.worst.slack) < 600 else 600.0


def name_words(failure: FailureFinding, outlook: Outlook) -> str:
    """Say what fails; where it is listed for the air and for the heat, say for which."""
    same = [one for one in outlook.failures if one.words == failure.words]
    if len(same) < 2:
        return failure.words
    return f"{failure.words} ({'air' if failure.worst.relief == AIR_RELIEF else 'heat'})"


def crossed_words(failure: FailureFinding) -> str:
    """Name the quantity whose limit is crossed first at a failure's worst moment."""
    if not math.isfinite(failure.worst.harm):
        return "none in what is computed"
    return presentation_of(failure.worst.limit).label


def is_kept(failure: FailureFinding) -> bool:
    """Tell whether a failure leaves its reserve at every minute, at the policy's confidence."""
    return failure.worst.slack >= failure.reserve


def state_words(failure: FailureFinding) -> str:
    """Say how a failure fares at its worst moment."""
    if math.isnan(failure.worst.slack):
        return NOT_COMPUTED
    if is_kept(failure):
        return "reserve kept"
    return "reserve not kept" if failure.worst.slack >= 0 else "harm before help"


def least_kept(failure: FailureFinding) -> float:
    """Find the least share of members that keep a failure's reserve, over all minutes."""
    return float(np.min(failure.kept)) if len(failure.kept) else 1.0


def share_words(share: float) -> str:
    """Write a share that should be high, rounded down to a tenth of a percent."""
    if not math.isfinite(share):
        return NOT_COMPUTED
    figure = f"{math.floor(1000 * share + ROUNDING) / 10:.1f}".removesuffix(".0")
    return f"{figure}{GAP}%"


def chance_words(chance: float) -> str:
    """Write a chance that should be low, rounded up to a tenth of a percent."""
    if not math.isfinite(chance):
        return NOT_COMPUTED
    figure = f"{math.ceil(1000 * chance - ROUNDING) / 10:.1f}".removesuffix(".0")
    return f"{figure}{GAP}%"


def percent(fraction: float) -> str:
    """Write a share of the doubt, or a confidence as signed, without needless decimals."""
    return f"{100 * fraction:.4g}{GAP}%" if math.isfinite(fraction) else NOT_COMPUTED


def whole_percent(fraction: float) -> str:
    """Write a share to the nearest percent, never below nothing."""
    return f"{max(0, round(100 * fraction))}{GAP}%" if math.isfinite(fraction) else NOT_COMPUTED


def bar(doubt: Doubt) -> tuple[float, float, float] | None:
    """Find where a bar of 100 shows the low end, the share and the high end; None without one."""
    ends = (doubt.low, doubt.share, doubt.high)
    if not all(map(math.isfinite, ends)):
        return None
    low, share, high = (round(100 * min(1.0, max(0.0, end)), 1) for end in ends)
    return low, share, high


def answer_words(answer: Answer) -> str:
    """Say what a solved question means for the run."""
    if not answer.enough:
        return "still not a go"
    return "go" if answer.changed else "go as planned"


def reached_words(plan: Plan, seconds: float) -> str:
    """Write when a share of the members has reached a limit, or that so many do not."""
    return moment(plan, seconds) if math.isfinite(seconds) else "not reached"


def chances_greatest_first(outlook: Outlook) -> list[LimitChance]:
    """List the limits that some member reaches when nothing fails, the likeliest first."""
    return sorted((c for c in outlook.chances if c.chance > 0), key=lambda c: -c.chance)


def keeps_to_the_end(outlook: Outlook) -> bool:
    """Tell whether the run as planned keeps the reserve, so that nobody need turn back early."""
    return outlook.turn_back is not None and outlook.kept >= outlook.confidence


def turn_back_sentence(plan: Plan, outlook: Outlook) -> str:
    """Say up to when starting home keeps the reserve."""
    if outlook.turn_back is None:
        return "There is no turn-back time: starting home keeps the reserve at no minute."
    if keeps_to_the_end(outlook):
        return "The reserve is kept to the end of the run: no need to turn back before it."
    return f"Turn back by {moment(plan, outlook.turn_back)}: after that the reserve is not kept."


def kept_sentence(outlook: Outlook) -> str:
    """Say which share of the members keeps the reserve, and which share is asked for."""
    return (
        f"{share_words(outlook.kept)} of {outlook.members:,} drawn members keep the reserve, "
        f"whatever fails at whatever minute; the policy asks for {percent(outlook.confidence)}."
    )


def worst_line(plan: Plan, outlook: Outlook, width: int) -> str:
    """Write the worst failure as one line; its name gives way when room is short.

    Args:
        plan: The run.
        outlook: Its harm against help.
        width: Columns at hand.

    Returns:
        What fails, when, and harm, help and reserve.
    """
    if not outlook.failures:
        return "No failure was looked at."
    failure = outlook.failures[0]
    name = name_words(failure, outlook)
    told = (harm_words(failure, outlook.computed), help_words(failure))
    whole = _clocks(*told, reserve_words(failure.reserve))
    short = f"{whole_minutes(failure.worst.time)}{GAP}min"
    tails = (
        f" at {moment(plan, failure.worst.time)}: {whole}",
        f" at {short}: {whole}",
        f" at {short}: {_with_one_unit(whole)}",
    )
    fitting = [tail for tail in tails if len(f"If {name}{tail}") <= width]
    tail = fitting[0] if fitting else tails[-1]
    room = max(8, width - len(f"If {tail}"))
    return f"If {textwrap.shorten(name, room, placeholder=' ...')}{tail}"


def _clocks(harm: str, help_: str, reserve: str) -> str:
    return f"harm {harm}, help {help_}, reserve {reserve}"


def _with_one_unit(clocks: str) -> str:
    """Say the unit once, at the end, where all clocks have the same."""
    head, _, unit = clocks.rpartition(GAP)
    return f"{head.replace(GAP + unit, '')}{GAP}{unit}" if head.count(GAP + unit) == 2 else clocks


def turn_back_line(plan: Plan, outlook: Outlook, width: int) -> str:
    """Write the turn-back time and the share that keeps the reserve as one line.

    Args:
        plan: The run.
        outlook: Its harm against help.
        width: Columns at hand.

    Returns:
        Minute, clock time, the share of the members and the share that is asked for.
    """
    until = "No turn-back time"
    if keeps_to_the_end(outlook):
        until = f"No need to turn back in {whole_minutes(plan.duration)}{GAP}min"
    elif outlook.turn_back is not None:
        until = f"Turn back by {moment(plan, outlook.turn_back)}"
    share, asked = share_words(outlook.kept), percent(outlook.confidence)
    whole = f"{until}; {share} of {outlook.members} members keep the reserve, {asked} asked"
    return whole if len(whole) <= width else whole.replace(" members", "")


def first_step(outlook: Outlook) -> str:
    """Write what to change first, or what to measure first where nothing need be changed."""
    changes = [answer for answer in outlook.answers if answer.changed and answer.enough]
    if outlook.verdict != "go" and changes:
        first = changes[0]
        return f"Change first: {first.question}, {first.answer} (planned {first.present})"
    measures = [doubt for doubt in outlook.doubts if doubt.measurable]
    if measures:
        share = whole_percent(measures[0].share)
        return f"Measure first, for {share} of the doubt: {measures[0].label}"
    return outlook.advice[0] if outlook.advice else "Nothing to measure or to change was found."


def worst_over_time(outlook: Outlook) -> tuple[FloatArray, FloatArray]:
    """Find at each instant the least slack beyond its reserve over all failures.

    Args:
        outlook: Harm against help over a run.

    Returns:
        Instants [s], rising, and the slack at the policy's confidence less the reserve [s];
        infinite where every failure leaves more than is computed.
    """
    instants = np.unique(np.concatenate([np.zeros(0), *(f.instants for f in outlook.failures)]))
    least = np.full(instants.shape, np.inf)
    for failure in outlook.failures:
        at = np.searchsorted(instants, failure.instants)
        least[at] = np.fmin(least[at], failure.slack_at_confidence - failure.reserve)
    return instants, least
