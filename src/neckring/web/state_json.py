"""The run as it stands, as JSON for screens of the team's own; SI, run times in seconds."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, is_dataclass
from enum import Enum

from neckring.live.entries import Role
from neckring.live.reserve_clocks import clock_values
from neckring.live.run_records import RunState
from neckring.web.console_parts import ConsoleParts
from neckring.web.page_views import LaneView, lane_views, standing_words

SEE_SYMPTOMS = frozenset({Role.LEAD, Role.TENDER, Role.MEDIC, Role.TRAINER})


def state_as_json(console: ConsoleParts, role: Role) -> dict[str, object]:
    """The run as somebody may see it.

    Args:
        console: The console.
        role: Of who asks: a wall sees no words about symptoms, and only the trainer sees faults.
    """
    state, sheet = console.desk.state, console.sheet
    _, word, sentence = standing_words(state)
    found: dict[str, object] = {
        "number": state.number,
        "run_time": state.run_time,
        "station": sheet.station,
        "invented": sheet.invented,
        "rehearsal": sheet.rehearsal,
        "opened": state.opened,
        "closed": state.closed,
        "standing": {"word": word, "sentence": sentence},
        "stopped": sorted(state.stopped),
        "held": state.hold is not None,
        "procedure": state.procedure,
        "lanes": [_lane(lane) for lane in lane_views(state, sheet)],
        "wearers": {letter: _wearer(letter, console, state, role) for letter in sheet.letters},
        "alarms": [plain(alarm) for alarm in state.alarms.values()],
        "cards": [plain(card) for card in state.cards.values()],
    }
    if role is Role.LEAD:
        found["paired"] = plain(state.paired)
    if role is Role.TRAINER or state.closed is not None:
        found["faults"] = [
            {"wearer": letter, "fault": fault, "share": now.share, "run_time": now.run_time}
            for (letter, fault), now in state.faults.items()
        ]
    return found


def _lane(view: LaneView) -> dict[str, object]:
    if view.next is None:
        return {"lane": view.lane, "next": None}
    step, record = view.next.step, view.next.record
    return {
        "lane": view.lane,
        "next": {
            "procedure": step.procedure,
            "step": step.number,
            "words": step.words,
            "say": step.say,
            "answer": step.answer,
            "expect": step.expect,
            "if_not": step.if_not,
            "must_show": step.reads.text if step.reads else None,
            "caution": f"{step.caution.word.value}: {step.caution.text}" if step.caution else None,
            "status": record.status.value,
            "waits": view.next.waits,
        },
    }


def _wearer(letter: str, console: ConsoleParts, state: RunState, role: Role) -> dict[str, object]:
    sheet = console.sheet
    symptoms = [plain(each) for each in state.symptoms if each.wearer == letter]
    return {
        "code": sheet.wearers[letter].code,
        "spell": plain(state.spells.get(letter)),
        "call": plain(state.calls.get(letter)),
        "turned_back": letter in state.turned_back,
        "released": letter in state.released,
        "symptoms": symptoms if role in SEE_SYMPTOMS else len(symptoms),
        "clocks": [
            plain(value)
            for value in clock_values(state, sheet, state.run_time)
            if value.wearer == letter
        ],
        "estimate": plain(console.estimates().get(letter)),
    }


def plain(value: object) -> object:
    """Records as JSON: what has no end is null, since JSON has no word for it."""
    if is_dataclass(value) and not isinstance(value, type):
        return plain(asdict(value))
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(part) for part in value]
    return value
