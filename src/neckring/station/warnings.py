"""What a valid station still gives reason to look at twice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from neckring.constants import OXYGEN_IN_AIR, STANDARD_PRESSURE
from neckring.station.fault import Fault, quoted
from neckring.station.help import ALONG
from neckring.station.limits import LimitSheet
from neckring.station.nodes import Node
from neckring.station.references import Trees, fault_at
from neckring.station.run import Run, Spell
from neckring.station.site import Station
from neckring.station.suit import Suit
from neckring.units import format_quantity

SLOWER = (("undress_lying", "undress"), ("free_helmet", "open_helmet_by_other"))
"""Acts of help that nobody does quicker than the easier act named after them."""


def station_warnings(
    station: Station,
    sheet: LimitSheet,
    suits: Mapping[str, Suit],
    runs: Mapping[str, Run],
    trees: Trees,
) -> Iterator[Fault]:
    """Look over a valid station.

    Args:
        station: Its own file.
        sheet: Its limits.
        suits: By file.
        runs: By file.
        trees: The trees of all files, for the places of the warnings.
    """
    limits = next(iter(trees["limits"].values()))
    yield from _thin_air(station, sheet, limits)
    for file, suit in suits.items():
        yield from _help_that_is_too_quick(suit, trees["suit"][file])
    by_code = {suit.code: suit for suit in suits.values()}
    for file, run in runs.items():
        yield from _run_warnings(run, trees["run"][file])
        yield from _nobody_opens(run, by_code[run.suit], trees["run"][file])


def outdoor_oxygen(altitude: float) -> float:
    """Partial pressure of oxygen in dry outdoor air [Pa] at an altitude [m].

    Source: U.S. Standard Atmosphere 1976, troposphere.
    """
    return float(OXYGEN_IN_AIR * STANDARD_PRESSURE * (1.0 - 2.25577e-5 * altitude) ** 5.25588)


def _thin_air(station: Station, sheet: LimitSheet, root: Node) -> Iterator[Fault]:
    there = outdoor_oxygen(station.altitude.nominal)
    for i, limit in enumerate(sheet.limits):
        if limit.quantity == "inspired_o2" and limit.crossed_by(there, age=0.0):
            shown = format_quantity(there, "pressure", "kPa")
            accepted = f"at {station.altitude.text} outdoor air itself has {shown} of oxygen"
            yield fault_at(root, ("limits", i, "value"), accepted, "the limit is always crossed")


def _run_warnings(run: Run, root: Node) -> Iterator[Fault]:
    before: Spell | None = None
    for i, spell in enumerate(run.outing):
        for sentence in _spell_warnings(spell):
            # What merely carries on was told where it began.
            if before is None or sentence not in _spell_warnings(before):
                accepted, hint = sentence
                yield fault_at(root, ("outing", i), accepted, hint, read=quoted(spell.spell))
        before = spell
    first, last = run.outing[0].starts_at, run.outing[-1].ends_at
    if first != last:
        accepted = f"a run that ends where it began, at {first}"
        at = ("outing", len(run.outing) - 1)
        yield fault_at(root, at, accepted, read=f"an end at {last}")


def _spell_warnings(spell: Spell) -> list[tuple[str, str]]:
    found = []
    if spell.helmet_on and spell.air == "none":
        found.append(
            ("air from the facility or the pack while the helmet is on", "helmet on without air")
        )
    if spell.cooling == "pack" and spell.valve is not None and spell.valve.nominal == 0.0:
        found.append(("an open valve while the pack cools", "the closed valve stops the cooling"))
    return found


def _help_that_is_too_quick(suit: Suit, root: Node) -> Iterator[Fault]:
    for slow, quick in SLOWER:
        slower, quicker = getattr(suit.help_times, slow), getattr(suit.help_times, quick)
        if slower.nominal < quicker.nominal:
            written = root.text_of("help", slow)
            hint = "" if written else f"left out, it counts as {slower.text}"
            accepted = f"no less than {quick}, {quicker.text}"
            yield fault_at(root, ("help", slow), accepted, hint)


def _nobody_opens(run: Run, suit: Suit, root: Node) -> Iterator[Fault]:
    """Warn when the wearer cannot open the helmet and goes where nobody stands who can."""
    hands = run.hands
    if suit.help_times.open_helmet or hands.walks_along or hands.partner:
        return
    worn = [spell for spell in run.outing if spell.helmet_on]
    # Those who dress and undress are at the bay.
    attended = {hands.tender, run.outing[0].starts_at}
    alone = [place for spell in worn for place in spell.places if place not in attended]
    if alone:
        read = f"a tender at {hands.tender} and the helmet on at {alone[0]}"
        accepted = f"a tender {ALONG}, a partner, or a suit with open_helmet"
        hint = f"{suit.code} has none: if its air fails, nobody there can open the helmet"
        yield fault_at(root, ("help", "tender"), accepted, hint, read=read)
