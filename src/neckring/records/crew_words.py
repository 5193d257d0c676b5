"""How people, sign-offs and gates are said; codes only."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Iterator

from neckring.crew.published_gates import PUBLISHED, When, codes_for, side_by_side
from neckring.crew.sign_offs import Current, Fitness, fitness, matrix, who_may
from neckring.station.gates import Gate
from neckring.station.people import PeopleSheet
from neckring.station.run import Run
from neckring.station.site import Station
from neckring.station.vitals import MEASURED_AS, WORDS
from neckring.units import parse_quantity

WIDTH = 80
MOST_TOLD = 12
"""People who may not, for each role."""
CAUTION = (
    "A clearance on a list clears nobody: the medic decides on the day, and any doubt or symptom "
    "keeps a wearer out."
)
NO_GATE = "no gate is signed: nobody passes by this page; the medic decides alone"
MARK = {"observed": "o", "supervised": "s", "alone": "A", None: "."}
KEY = "A alone, s supervised, o observed, . nothing that counts; * a better one has lapsed"


def crew_lines(
    sheet: PeopleSheet, station: Station, runs: list[Run], day: datetime.date
) -> list[str]:
    """Who may do what on a day, and for the runs of it who may not; at most 80 columns wide.

    Args:
        sheet: The people.
        station: Where they are at work.
        runs: Those that are asked about; perhaps none.
        day: The day.
    """
    lines = _lines(sheet, station, runs, day)
    return [part for line in lines for part in _wrapped(line)]


def _wrapped(line: str) -> list[str]:
    return textwrap.wrap(line, WIDTH, subsequent_indent="    ", break_on_hyphens=False) or [""]


def _lines(
    sheet: PeopleSheet, station: Station, runs: list[Run], day: datetime.date
) -> Iterator[str]:
    invented = " (invented data)" if station.invented else ""
    yield f"{station.name}: people on {day.isoformat()}{invented}"
    for run in runs:
        yield from _run_lines(sheet, station, run, day)
    for role, wanted in sheet.roles.items():
        yield f"{role} ({wanted.words}):"
        found = who_may(sheet, role, day)
        may = ", ".join(one.person for one in found if one.may)
        yield f"  may: {may or 'nobody'}"
        yield from _not_lines(sheet, role, found)
        for one in found:
            if one.may and one.soon:
                yield f"  soon: {one.person}: {'; '.join(one.soon)}"
    if sheet.skills:
        yield "sign-offs:"
        yield from matrix_lines(sheet, day)
    yield from _gates_lines(sheet)
    yield ""
    yield CAUTION


def _not_lines(sheet: PeopleSheet, role: str, found: tuple[Fitness, ...]) -> Iterator[str]:
    """Those who have something of what is demanded, the nearest first; of the others how many."""
    wanted = sheet.roles[role]
    demands = len(wanted.skills) + len(wanted.clearances) + wanted.consent
    lacking = [one for one in found if not one.may]
    some = [one for one in lacking if len(one.reasons) < demands or demands == 1]
    nearest = sorted(some, key=lambda one: len(one.reasons))[:MOST_TOLD]
    yield from (f"  may not: {fitness_words(one)}" for one in nearest)
    if len(lacking) > len(nearest):
        yield f"  may not: {len(lacking) - len(nearest)} more, farther from it (see --json)"


def _run_lines(sheet: PeopleSheet, station: Station, run: Run, day: datetime.date) -> Iterator[str]:
    yield f"run {run.code}:"
    parts = [(run.wearer, "wearer")]
    if station.console is not None:
        parts += list(station.console.people.items())
    for person, role in parts:
        if person not in sheet.people:
            yield f"  {person} as {role}: NOT KNOWN, people.yaml has no such code"
        elif role not in sheet.roles:
            yield f"  {person} as {role}: nothing is demanded, people.yaml has no such role"
        else:
            one = fitness(sheet, person, role, day)
            yield f"  {person} as {role}: {'may' if one.may else 'MAY NOT, ' + _why(one)}"


def fitness_words(one: Fitness) -> str:
    """A person's code and why not."""
    return f"{one.person}: {_why(one)}"


def _why(one: Fitness) -> str:
    return "; ".join(one.reasons)


def matrix_lines(sheet: PeopleSheet, day: datetime.date) -> Iterator[str]:
    """The matrix of sign-offs, a person a line, in as many blocks as the width asks for."""
    skills = list(sheet.skills)
    found = matrix(sheet, day)
    wide = max(len(person) for person in found) + 2
    room = max(len(skill) for skill in skills) + 2
    at_once = max(1, (WIDTH - wide - 2) // room)
    for begin in range(0, len(skills), at_once):
        part = skills[begin : begin + at_once]
        yield ("  " + " " * wide + "".join(skill.ljust(room) for skill in part)).rstrip()
        for person, has in found.items():
            cells = "".join(cell(has[skill]).ljust(room) for skill in part)
            yield ("  " + person.ljust(wide) + cells).rstrip()
    yield f"  {KEY}"


def cell(has: Current) -> str:
    """One cell of the matrix."""
    return MARK[has.how] + ("*" if has.lapsed is not None else "")


def _gates_lines(sheet: PeopleSheet) -> Iterator[str]:
    gates = sheet.gates
    yield "gate before a run:"
    yield from gate_lines(gates.entry if gates else None, "entry")
    yield "gate after a run:"
    yield from gate_lines(gates.release if gates else None, "release")


def gate_lines(gate: Gate | None, when: When) -> Iterator[str]:
    """What is signed, and what is published beside it; the published decides nothing."""
    if gate is None:
        yield f"  {NO_GATE}"
    else:
        yield f"  signed by {gate.signed_by} on {gate.signed_on.isoformat()}; this one is applied:"
        for rule in gate.rules:
            read = "read at its source" if rule.verified else "not verified"
            yield f"  - {rule.words} stops [{rule.source}; {read}]"
        rest = f"{gate.rest.nominal / 60:.0f} min"
        yield f"  rest {rest}, measure again, {gate.repeats} times at most"
        yield from published_differences(gate, when)
    yield "  published, for comparison only; they contradict one another:"
    for row in side_by_side(when):
        told = ", ".join(f"{code} {text}" for code, text in row.texts.items())
        conflict = "CONFLICT " if row.conflict else ""
        yield f"  - {conflict}{WORDS[row.quantity]} {row.side}: {told}"
    for one in PUBLISHED:
        if one.when == when:
            yield f"  {one.code}: {one.words}; {one.besides} [{one.source}; {one.seen}]"


def published_differences(gate: Gate, when: When) -> Iterator[str]:
    """Where a signed gate leaves the published one that it says it follows."""
    if gate.follows is None:
        return
    if gate.follows not in codes_for(when):
        yield f"  it follows {gate.follows}, of which nothing is known here"
        return
    published = next(one for one in PUBLISHED if one.code == gate.follows)
    own = {(str(rule.quantity), str(rule.stop_if)): rule for rule in gate.rules}
    for figure in published.figures:
        rule = own.get((figure.quantity, figure.side))
        dimension = MEASURED_AS[figure.quantity].dimension
        theirs = parse_quantity(figure.text, dimension).nominal
        said = f"{WORDS[figure.quantity]} {figure.side} {figure.text}"
        if rule is None:
            yield f"  differs from {gate.follows}: it leaves out {said}"
        elif abs(rule.value.nominal - theirs) > 1e-6 * abs(theirs):
            yield f"  differs from {gate.follows}: {rule.value.text} where it says {said}"
