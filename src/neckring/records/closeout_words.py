"""How the close-out of a run is said."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from neckring.crew.body_map import REGIONS
from neckring.crew.closing import CloseOut, Due
from neckring.crew.feeling_scales import FEELINGS, SYMPTOMS, TROUBLE
from neckring.crew.health_gate import GateFinding
from neckring.crew.mass_balance import Banded

WIDTH = 80
GROUP_WORDS: dict[str, str] = {
    "before": "health sheet of the morning",
    "task_load": "task load",
    "feelings": "feelings",
    "symptoms": "symptoms",
    "body_map": "body map",
    "licensed": "figures of licensed scales",
    "said": "what was said",
    "masses": "masses",
    "strain": "strain",
    "recovery": "recovery of the heart",
    "release": "release",
    "near_misses": "near misses",
}
OUTCOMES: dict[str, str] = {
    "open": "OPEN",
    "measure": "MEASURE",
    "rest": "REST, then measure again",
    "medic decides": "THE MEDIC DECIDES",
    "shut": "SHUT",
    "refer": "HAND ON TO MEDICAL CARE",
}
CAUTION = (
    "The signed figures only hold somebody back. The medic releases; anybody who feels unwell is "
    "not released, whatever the figures say."
)


def closeout_lines(found: CloseOut, invented: bool) -> list[str]:
    """The state of a close-out, at most 80 columns wide."""
    lines = _lines(found, invented)
    return [
        part
        for line in lines
        for part in textwrap.wrap(line, WIDTH, subsequent_indent="    ", break_on_hyphens=False)
    ]


def _lines(found: CloseOut, invented: bool) -> Iterator[str]:
    state = "complete" if found.complete else "OPEN"
    data = " (invented data)" if invented else ""
    yield f"close-out of {found.run}, wearer {found.wearer}: {state}{data}"
    missing = ", ".join(GROUP_WORDS[group] for group in found.missing)
    yield f"still to fill in: {missing or 'nothing'}"
    if "before" in found.latest:
        yield f"before the run: {gate_words(found.entry)}"
    yield f"released: {released_words(found)}"
    if found.task_load is not None:
        yield f"task load: {found.task_load:.1f} of 100 (plain mean of six)"
    yield from _felt(found)
    yield from _measured(found)
    yield from (f"near miss: {due_words(due)}" for due in found.dues)
    yield CAUTION


def gate_words(found: GateFinding | None) -> str:
    """What a gate says."""
    if found is None:
        return "no signed gate, or nothing measured: the medic decides alone"
    again = f" at {clock(found.next_at)}" if found.next_at is not None else ""
    return f"{OUTCOMES[found.outcome]}{again}: {'; '.join(found.why)}"


def clock(seconds: float) -> str:
    """A time of the day from seconds since midnight."""
    minutes = int(seconds // 60) % (24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def released_words(found: CloseOut) -> str:
    """Whether the wearer is released, and by what."""
    said = "yes" if found.released else "NO"
    if found.overridden:
        return f"{said}, {found.overridden}; the signed gate says {gate_words(found.release)}"
    if "release" not in found.latest:
        return f"{said}, nothing was measured after the run"
    held = f"the medic decides: {'; '.join(found.held_by)}; " if found.held_by else ""
    return f"{said}, {held}{gate_words(found.release)}"


def _felt(found: CloseOut) -> Iterator[str]:
    form = found.latest.get("feelings")
    if form is not None and form.feelings:
        told = (f"{code}: {FEELINGS[code].word(n)} ({n})" for code, n in form.feelings.items())
        yield f"feelings (own scales, not validated): {'; '.join(told)}"
    form = found.latest.get("symptoms")
    if form is not None and form.symptoms is not None:
        told = (f"{SYMPTOMS[c]}: {TROUBLE.word(n)} ({n})" for c, n in form.symptoms.items() if n)
        yield f"symptoms: {'; '.join(told) or 'none'}"
    form = found.latest.get("body_map")
    if form is not None and form.body_map is not None:
        worst = sorted(form.body_map.items(), key=lambda one: -one[1])
        told = (f"{REGIONS[code].words}: {TROUBLE.word(n)} ({n})" for code, n in worst if n)
        yield f"body: {'; '.join(told) or 'nothing'}"
    form = found.latest.get("licensed")
    for one in (form.licensed or ()) if form else ():
        yield f"{one.scale} (licensed to the team), {one.moment}: {one.value:g}"


def _measured(found: CloseOut) -> Iterator[str]:
    balance = found.balance
    if balance is not None:
        share = f"{100 * balance.lost_share.value:.2f}"
        deviation = f"{100 * balance.lost_share.deviation:.2f}"
        yield f"body mass lost: {kilograms(balance.lost)}, {share} % +/- {deviation} %"
        yield f"sweat and breath: {kilograms(balance.sweat)}"
        if balance.kept_in_garments and balance.evaporated:
            kept, gone = kilograms(balance.kept_in_garments), kilograms(balance.evaporated)
            yield f"of it in the garments {kept}, gone with the air {gone}"
    yield from (f"CROSSED: {words}" for words in found.limits_crossed)
    if "strain" in found.latest:
        index = "not defined without core temperature"
        if found.strain is not None:
            index = f"{found.strain:.1f} of 10 (Moran 1998)"
        yield f"strain index: {index}"
    if found.recovery is not None:
        words = {"none": "NO RECOVERY", "high": "HIGH", "satisfactory": "satisfactory"}
        yield f"recovery of the heart: {words[found.recovery]} (OSHA Technical Manual)"


def kilograms(one: Banded) -> str:
    """A mass with one standard deviation."""
    return f"{one.value:.2f} kg +/- {one.deviation:.2f}"


def due_words(due: Due) -> str:
    """A report to a panel: told, or how long there is still time."""
    what = f"{textwrap.shorten(due.words, 60, placeholder=' ...')} -> {due.panel_words}"
    if due.reported_on is not None:
        late = ", LATE" if due.late else ""
        return f"{what}: told on {due.reported_on.isoformat()}{late}"
    if due.deadline is None or due.left is None:
        return f"{what}: no rule is known, ask"
    until = due.deadline.due.strftime("%Y-%m-%d %H:%M")
    assumed = f" ({due.deadline.assumed})" if due.deadline.assumed else ""
    if due.left < 0:
        return f"{what}: OVERDUE since {until}{assumed}"
    return f"{what}: due {until}, {left_words(due.left)} left{assumed}"


def left_words(seconds: float) -> str:
    """A time left in days and hours."""
    hours = int(seconds // 3600)
    if hours < 1:
        return f"{int(seconds // 60)} min"
    return f"{hours} h" if hours < 48 else f"{hours // 24} days {hours % 24} h"
