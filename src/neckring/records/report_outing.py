"""Spells as planned and as they were, turn-back times three ways, live estimates. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from neckring.live.bodies import group_in, number_in, text_in, whole_in
from neckring.live.entries import Body, Entry, Kind
from neckring.live.run_sheet import RunSheet
from neckring.outing.findings import Plan
from neckring.records.report_course_records import EstimateFact, SpellFact, Stretch, TurnBackFact
from neckring.records.report_event_records import Interruption
from neckring.records.report_walk import merged
from neckring.station.run import Spell

Three = tuple[float | None, float | None, float | None]


def spell_facts(
    entries: Iterable[Entry],
    sheet: RunSheet,
    reaches: Iterable[str],
    plans: Mapping[str, Plan],
    first_dressing: float,
    until: float,
) -> tuple[SpellFact, ...]:
    """Every spell of every wearer, as planned and as it was.

    Args:
        entries: All of the log book.
        sheet: Of the day.
        reaches: Places that the facility reaches.
        plans: By letter; may be empty.
        first_dressing: Run time of it [s].
        until: End of the run [s].
    """
    begun = _begun(entries)
    return tuple(
        fact
        for letter, wearer in sheet.wearers.items()
        for fact in _spells(
            letter,
            wearer.run.outing,
            begun.get(letter, []),
            frozenset(reaches),
            _planned(plans.get(letter), first_dressing),
            until,
        )
    )


def _begun(entries: Iterable[Entry]) -> Mapping[str, list[tuple[int, float]]]:
    found: dict[str, list[tuple[int, float]]] = {}
    for entry in entries:
        if entry.deed.kind is Kind.SPELL_BEGUN:
            body = entry.deed.body
            spell = whole_in(body, "spell"), entry.stamp.run_time
            found.setdefault(text_in(body, "wearer"), []).append(spell)
    return found


def _planned(plan: Plan | None, first_dressing: float) -> Sequence[Stretch]:
    if plan is None:
        return ()
    return [
        Stretch(first_dressing + each.begins, first_dressing + each.ends) for each in plan.spells
    ]


def _spells(
    letter: str,
    outing: Sequence[Spell],
    begun: Sequence[tuple[int, float]],
    reaches: frozenset[str],
    planned: Sequence[Stretch],
    until: float,
) -> Iterator[SpellFact]:
    ends = [*(at for _, at in begun[1:]), until]
    real: dict[int, Stretch] = {}
    for (number, at), end in zip(begun, ends, strict=False):
        # One that is begun again counts from its first begin to its last end.
        real[number] = Stretch(real[number].begins if number in real else at, end)
    for number, spell in enumerate(outing):
        was = real.get(number)
        yield SpellFact(
            letter,
            number,
            spell.spell,
            spell.ends_at,
            not set(spell.places) <= reaches,
            was.begins if was else None,
            was.ends if was else None,
            planned[number] if number < len(planned) else None,
        )


def away(spells: Iterable[SpellFact], letter: str) -> tuple[Stretch, ...]:
    """When a wearer was away from what the facility reaches."""
    return merged(
        Stretch(one.begun, one.ended)
        for one in spells
        if one.wearer == letter and one.away and one.begun is not None and one.ended is not None
    )


def estimate_facts(entries: Iterable[Entry]) -> tuple[EstimateFact, ...]:
    """Every live estimate, in order."""
    return tuple(
        _estimate(entry.deed.body, entry.stamp.run_time)
        for entry in entries
        if entry.deed.kind is Kind.ESTIMATE
    )


def _estimate(body: Body, at: float) -> EstimateFact:
    bands = group_in(body, "quantities")
    quantities = {name: _three(group_in(bands, name)) for name in bands}
    turn_back = group_in(body, "turn_back")
    return EstimateFact(
        text_in(body, "wearer"),
        at,
        {
            name: (low, middle, high)
            for name, (low, middle, high) in quantities.items()
            if low is not None and middle is not None and high is not None
        },
        _three(turn_back) if turn_back else None,
        text_in(body, "binding"),
    )


def _three(band: Body) -> Three:
    return number_in(band, "low"), number_in(band, "middle"), number_in(band, "high")


def turn_back_facts(
    spells: Sequence[SpellFact],
    estimates: Sequence[EstimateFact],
    interruptions: Sequence[Interruption],
    plans: Mapping[str, Plan],
    first_dressing: float,
    letters: Iterable[str],
) -> tuple[TurnBackFact, ...]:
    """Planned, estimated and real turn-back time of each wearer."""

    def fact(letter: str) -> TurnBackFact:
        called = next(
            (o.at for o in interruptions if o.kind == "turn back" and letter in o.wearers), None
        )
        home = way_home_began(spells, letter)
        real = min((at for at in (called, home) if at is not None), default=None)
        own = [e for e in estimates if e.wearer == letter and e.turn_back is not None]
        before = [e for e in own if real is None or e.at <= real]
        return TurnBackFact(
            letter,
            _planned_turn_back(plans.get(letter), first_dressing),
            before[-1].turn_back if before else None,
            called,
            home,
        )

    return tuple(fact(letter) for letter in letters)


def way_home_began(spells: Sequence[SpellFact], letter: str) -> float | None:
    """When the way home began: the spell after the last one at the place that was reached last.

    Returns:
        None when it never began, or the run leaves nothing.
    """
    own = [one for one in spells if one.wearer == letter]
    out = [number for number, one in enumerate(own) if one.away]
    if not out:
        return None
    places = [one.place for one in own]
    seen: dict[str, int] = {}
    for number, place in enumerate(places):
        seen.setdefault(place, number)
    furthest = max(out, key=lambda number: seen[places[number]])
    last = max(n for n in out if places[n] == places[furthest])
    return own[last + 1].begun if last + 1 < len(own) else None


def _planned_turn_back(plan: Plan | None, first_dressing: float) -> float | None:
    if plan is None or plan.outlook is None or plan.outlook.turn_back is None:
        return None
    return first_dressing + plan.outlook.turn_back
