"""An examined procedure as JSON; `proof.schema.json` and `docs/proof_json.md` describe it."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from importlib.resources import files
from typing import Any

from neckring import __version__
from neckring.procedure.examination import (
    Examination,
    Outcome,
    SlipCounts,
    SlipStory,
    StepSafety,
)
from neckring.procedure.model import Duration, State
from neckring.procedure.risk import LIMITS, Estimate
from neckring.procedure.timing import Timing, practised_totals
from neckring.procedure.way_out import FastestWay, WayOut
from neckring.procedure.wording import WordingFinding
from neckring.records import proof_words
from neckring.records.proof_rows import StepRow, step_rows
from neckring.records.proof_words import kit_of

FORMAT_VERSION = 1

Json = Any  # dict, list, str, int, float, bool or None, as the json module writes them


def as_json(
    examination: Examination, station_name: str = "", invented: bool = False
) -> dict[str, Json]:
    """Turn an examination into what the json module can write, times in s.

    Args:
        examination: All that is known of the procedure.
        station_name: Name of the station.
        invented: Whether the station's data are made up.

    Returns:
        A dictionary that matches the shipped schema; a value that is not a finite number is None.
    """
    found = examination
    document = {
        "format_version": FORMAT_VERSION,
        "neckring_version": __version__,
        "station": station_name,
        "invented": invented,
        "procedure": _procedure(found),
        "verdict": found.verdict,
        "sentence": found.sentence,
        "claims": [asdict(claim) for claim in found.claims],
        "relief": list(found.relief),
        "steps": _steps(found),
        "end_state": _state(found, found.states[-1]) if found.states else None,
        "singles": _counts(found.singles),
        "pairs": None if found.pairs is None else _counts(found.pairs),
        "harmful_pairs": list(found.harmful_pairs),
        "breakdown_pairs": None
        if found.breakdown_pairs is None
        else _counts(found.breakdown_pairs),
        "harmful_breakdown_pairs": list(found.harmful_breakdown_pairs),
        "stories": [_story(found, story) for story in found.stories],
        "total_risk": _estimate(found.total_risk),
        "advised": [asdict(advised) for advised in found.advised],
        "ways": [_way_out(found, way) for way in found.ways],
        "timing": _timing(found, found.timing),
        "authoring": [asdict(finding) for finding in found.authoring],
        "wording": [_wording(finding) for finding in found.wording],
        "error_rows": [asdict(row) for row in proof_words.error_rows(found)],
        "limits_of_the_figures": list(LIMITS),
        "cannot_see": [*found.listed.ground.kit.blind_to, *proof_words.UNSEEN],
        "cautions": list(proof_words.CAUTIONS),
    }
    plain: dict[str, Json] = _plain(document)
    return plain


def as_json_text(examination: Examination, station_name: str = "", invented: bool = False) -> str:
    """Write an examination as JSON text, the same examination always as the same text."""
    document = as_json(examination, station_name, invented)
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def proof_schema() -> dict[str, Json]:
    """Read the JSON Schema that every examination written as JSON matches."""
    text = files("neckring.records").joinpath("proof.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Json] = json.loads(text)
    return schema


def _procedure(found: Examination) -> dict[str, Json]:
    sheet = found.listed.sheet
    return {
        "code": sheet.code,
        "title": sheet.title,
        "kit": sheet.kit,
        "wearers": sheet.wearers,
        "lanes": list(found.listed.procedure.lanes),
        "when": sheet.when,
        "ends": sheet.ends.text,
        "mark": proof_words.mark_of(found.listed),
    }


def _steps(found: Examination) -> list[Json]:
    rows = zip(step_rows(found), found.states, strict=False)
    return [_step(found, row, state) for row, state in rows]


def _step(found: Examination, row: StepRow, state: State) -> dict[str, Json]:
    written, warned = row.written, row.caution
    return {
        "number": row.number,
        "kind": row.kind,
        "who": list(written.meet or (written.who,)),
        "action": row.action,
        "say": written.say,
        "answer": written.answer,
        "expect": row.expect or None,
        "if_not": written.if_not,
        "note": written.note,
        "caution": None if warned is None else asdict(warned),
        "state_before": _state(found, state),
        **_safety(row.safety),
    }


def _safety(here: StepSafety) -> dict[str, Json]:
    return {
        "harmful_here": here.harmful_here,
        "caught_here": here.caught_here,
        "ways": [_way(way) for way in here.ways],
    }


def _state(found: Examination, state: State) -> dict[str, str]:
    variables = kit_of(found.listed, state).variables
    return {
        variable.name: variable.states[value]
        for variable, value in zip(variables, state, strict=True)
    }


def _way(way: FastestWay | None) -> Json:
    return None if way is None else {"acts": list(way.acts), **_duration(way.duration)}


def _duration(duration: Duration) -> dict[str, float]:
    return {"low": duration.low, "likely": duration.likely, "high": duration.high}


def _counts(counts: SlipCounts) -> dict[str, Json]:
    return {
        "total": counts.total,
        "outcomes": _outcomes(counts.outcomes),
        "by_kind": {kind: _outcomes(found) for kind, found in counts.by_kind.items()},
        "seconds": counts.seconds,
    }


def _outcomes(found: dict[Outcome, int]) -> dict[str, int]:
    return {outcome.value: found.get(outcome, 0) for outcome in proof_words.OUTCOMES}


def _story(found: Examination, story: SlipStory) -> dict[str, Json]:
    signed = proof_words.accepted_of(found, story)
    return {
        **asdict(story),
        "risk": _estimate(story.risk),
        "accepted_by": None if signed is None else signed.by,
        "accepted_on": None if signed is None else signed.date.isoformat(),
    }


def _estimate(estimate: Estimate | None) -> Json:
    if estimate is None:
        return None
    rows = [row.table for row in estimate.rows]
    return {**asdict(estimate), "words": estimate.words, "rows": rows}


def _way_out(found: Examination, way: WayOut) -> dict[str, Json]:
    worst = way.worst
    return {
        **asdict(way),
        "example": None if way.example is None else _state(found, way.example),
        "worst": None
        if worst is None
        else {"state": _state(found, worst[0]), "acts": list(worst[1])},
    }


def _timing(found: Examination, timing: Timing) -> dict[str, Json]:
    """Steps and lanes by what people call them, not by their place in a list."""
    procedure = found.listed.procedure
    numbers = [step.number for step in procedure.steps]
    meetings = [
        {
            "step": numbers[meeting.step],
            "late": None if meeting.late is None else procedure.lanes[meeting.late],
            "waits": [
                {
                    "who": procedure.lanes[wait.lane],
                    "time": asdict(wait.time),
                    "waited_for": wait.waited_for,
                }
                for wait in meeting.waits
            ],
        }
        for meeting in timing.meetings
    ]
    return {
        "total": asdict(timing.total),
        "lanes": [
            {"who": who, **asdict(spread)}
            for who, spread in zip(procedure.lanes, timing.lanes, strict=True)
        ],
        "steps": [
            {"step": number, **asdict(time)}
            for number, time in zip(numbers, timing.steps, strict=True)
        ],
        "chain": [numbers[place] for place in timing.chain],
        "meetings": meetings,
        "latest_starts": [
            {"who": who, **asdict(start)}
            for who, start in zip(procedure.lanes, found.starts, strict=False)
        ],
        "practice": [
            {"time": each.time, "rate": each.rate, **asdict(each.total)}
            for each in practised_totals(timing)
        ],
    }


def _wording(finding: WordingFinding) -> dict[str, Json]:
    return {**asdict(finding), "source": finding.source}


def _plain(value: Json) -> Json:
    """Turn tuples into lists and enumerations into text; what is not finite into None."""
    if isinstance(value, dict):
        return {str(name): _plain(inside) for name, inside in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inside) for inside in value]
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    return str(value) if isinstance(value, str) else value
