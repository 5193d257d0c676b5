"""The empty forms of a run as one page, for paper or to be read aloud from a tablet."""

from __future__ import annotations

from neckring import __version__
from neckring.crew import task_load
from neckring.crew.body_map import REGIONS
from neckring.crew.feeling_scales import FEELINGS, SYMPTOMS, TROUBLE
from neckring.outing.cautions import ALWAYS
from neckring.records.closeout_picture import NUMBERS, body_map_svg
from neckring.records.closeout_words import CAUTION
from neckring.records.page_frame import environment, style_named
from neckring.station.gates import Gate
from neckring.station.loading import LoadedStation
from neckring.station.vitals import UNITS, WORDS


def render_forms(station: LoadedStation, run: str) -> str:
    """Write the forms of a run as one HTML page that needs nothing beside itself.

    The same station always gives the same text.

    Args:
        station: With the signed gates and the panels.
        run: Code of a run of it.
    """
    people = station.people
    gates = people.gates if people else None
    return (
        environment()
        .get_template("closeout.html.j2")
        .render(
            run=station.runs[run],
            station=station.station,
            entry=gates.entry if gates else None,
            release=gates.release if gates else None,
            vitals=vitals_of(gates.release if gates else None),
            entry_vitals=vitals_of(gates.entry if gates else None),
            units=UNITS,
            vital_words=WORDS,
            scales=task_load.SCALES,
            marks=range(0, task_load.MOST + 1, task_load.STEP),
            feelings=FEELINGS,
            symptoms=SYMPTOMS,
            trouble=TROUBLE,
            regions=REGIONS,
            numbers=NUMBERS,
            drawing=body_map_svg(),
            panels=station.panels.panels if station.panels else {},
            cautions=(CAUTION, *ALWAYS),
            version=__version__,
            style=style_named(f"close-out of {run}"),
        )
    )


def vitals_of(gate: Gate | None) -> tuple[str, ...]:
    """What a gate has measured; the usual four where none is signed."""
    if gate is None:
        return ("heart_rate", "systolic", "diastolic", "temperature")
    return tuple(dict.fromkeys(rule.quantity for rule in gate.rules))
