"""From a run's log book, readings and plan to everything that a report says. Pure.

Start here: `run_report` puts together what the modules beside this one find out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from neckring.live.bodies import text_in
from neckring.live.drill import DrillReport
from neckring.live.entries import Entry, Kind
from neckring.live.run_records import RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.run_state import fold_all
from neckring.outing.findings import Plan
from neckring.records import report_events as events
from neckring.records import report_outing as outing
from neckring.records import report_steps as steps
from neckring.records.report_course_records import SensorFact
from neckring.records.report_records import FormFact, Provenance, RunReport
from neckring.records.report_walk import KitReader, exposure, kit_walk


@dataclass(frozen=True)
class Sources:
    """What a report is made from.

    Attributes:
        entries: All of the log book, verified.
        sheet: What was carried out.
        reaches: Places that the facility reaches.
        provenance: Where all of it comes from.
        plans: By letter; may be empty.
        sensors: Each channel; may be empty.
        forms: That were filled in.
        drill: Faults of a rehearsal; None for a real run.
    """

    entries: Sequence[Entry]
    sheet: RunSheet
    reaches: Sequence[str]
    provenance: Provenance
    plans: Mapping[str, Plan] = field(default_factory=dict)
    sensors: tuple[SensorFact, ...] = ()
    forms: tuple[FormFact, ...] = ()
    drill: DrillReport | None = None


def run_report(sources: Sources) -> RunReport:
    """Everything about a run.

    Args:
        sources: What it is made from.

    Raises:
        NewerSchemaError: The log book was written by a newer neckring.
    """
    entries, sheet = sources.entries, sources.sheet
    state = fold_all(sheet, entries)
    until = state.run_time if state.closed is None else state.closed
    first = first_dressing(state, sheet)
    held = steps.held_stretches(entries, until)
    walk, reader = kit_walk(entries, sheet), KitReader(sheet)
    procedures = steps.procedure_facts(state, sheet, held)
    spells = outing.spell_facts(entries, sheet, sources.reaches, sources.plans, first, until)
    interruptions = events.interruptions(entries, sheet)
    alarms = events.alarm_facts(entries)
    estimates = outing.estimate_facts(entries)
    return RunReport(
        station=sheet.station,
        invented=sheet.invented,
        rehearsal=sheet.rehearsal,
        runs={letter: wearer.run.code for letter, wearer in sheet.wearers.items()},
        wearers={letter: wearer.code for letter, wearer in sheet.wearers.items()},
        suits={letter: wearer.run.suit for letter, wearer in sheet.wearers.items()},
        people=sheet.people,
        opened=_local(state.opened, sheet.timezone),
        first_dressing=first,
        last=until,
        closed=state.closed,
        closed_why=_closed_why(entries),
        restarts=state.restarts,
        procedures=procedures,
        meetings=steps.meeting_facts(procedures),
        waits=steps.wait_facts(procedures, walk, reader, sheet.letters, until, held),
        interruptions=interruptions,
        deviations=events.deviations(entries, sheet),
        failed_steps=events.happenings(entries, sheet, Kind.STEP_FAILED),
        refused=events.happenings(entries, sheet, Kind.REFUSED),
        alarms=alarms,
        calls=events.call_facts(entries, sheet.letters),
        symptoms=events.happenings(entries, sheet, Kind.SYMPTOM),
        notes=events.happenings(entries, sheet, Kind.NOTE),
        cards=events.card_facts(entries),
        clocks=events.clock_facts(walk, sheet, alarms, until),
        turn_backs=outing.turn_back_facts(
            spells, estimates, interruptions, sources.plans, first, sheet.letters
        ),
        spells=spells,
        exposures=tuple(
            exposure(walk, reader, letter, until, outing.away(spells, letter))
            for letter in sheet.letters
        ),
        released={who: (held.by, held.run_time) for who, held in state.released.items()},
        estimates=estimates,
        sensors=sources.sensors,
        forms=sources.forms,
        drill=sources.drill,
        plans=sources.plans,
        provenance=sources.provenance,
    )


def first_dressing(state: RunState, sheet: RunSheet) -> float:
    """Run time of the first dressing, from which a plan counts [s]; 0 when nobody dressed."""
    first = state.progress.get(sheet.order[0])
    return first.begun if first is not None else 0.0


def _local(wall: float | None, timezone: str) -> datetime | None:
    if wall is None:
        return None
    return datetime.fromtimestamp(wall, UTC).astimezone(ZoneInfo(timezone))


def _closed_why(entries: Sequence[Entry]) -> str:
    closed = (entry for entry in entries if entry.deed.kind is Kind.RUN_CLOSED)
    return next((text_in(entry.deed.body, "reason") for entry in closed), "")
