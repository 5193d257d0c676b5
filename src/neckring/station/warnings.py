"""What a valid station still gives reason to look at twice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from neckring.constants import OXYGEN_IN_AIR, STANDARD_PRESSURE
from neckring.station.fault import Fault, quoted
from neckring.station.limits import LimitSheet
from neckring.station.nodes import Node
from neckring.station.references import Trees, fault_at
from neckring.station.run import Run, Spell
from neckring.station.site import Station
from neckring.units import format_quantity


def station_warnings(
    station: Station, sheet: LimitSheet, runs: Mapping[str, Run], trees: Trees
) -> Iterator[Fault]:
    """Look over a valid station.

    Args:
        station: Its own file.
        sheet: Its limits.
        runs: By file.
        trees: The trees of all files, for the places of the warnings.
    """
    limits = next(iter(trees["limits"].values()))
    yield from _thin_air(station, sheet, limits)
    for file, run in runs.items():
        yield from _run_warnings(run, trees["run"][file])


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
