"""Whether a deed may be taken now: pure, judged by the present state, answered in words.

A deed may come late: the tablet had lost the network and sends it again. It is judged by how the
run stands when it arrives. A stop counts whenever it comes; what would silence an alarm or let a
stopped run go on must be fresh, and tapped after what it answers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from neckring.live import step_deciding
from neckring.live.bodies import body_fault, group_in, text_in, whole_in
from neckring.live.entries import Deed, Kind, Role, Stamp
from neckring.live.entry_reading import lasting_words, lateness
from neckring.live.run_records import RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.step_deciding import HOW_TO_ACCEPT, accepted
from neckring.procedure.model import holds
from neckring.station.fault import listed

FRESH_FOR = 30.0
"""How old a tap may be that silences an alarm or lets a run go on [s]. Assumed."""
CLOCKS_AGREE = 5.0
"""By how much a tap may seem to come from the future [s]. Assumed."""

LEAD = frozenset({Role.LEAD})
HANDS = frozenset({Role.LEAD, Role.TENDER})
CREW = frozenset({Role.LEAD, Role.TENDER, Role.MEDIC})
ALL = frozenset({Role.LEAD, Role.TENDER, Role.MEDIC, Role.TRAINER})
DESK = frozenset({Role.DESK})

WHO: Mapping[Kind, frozenset[Role]] = {
    Kind.RUN_OPENED: LEAD | DESK,
    Kind.RUN_CLOSED: LEAD,
    Kind.PROCEDURE_BEGUN: LEAD,
    Kind.PROCEDURE_ENDED: LEAD,
    Kind.STEP_DONE: HANDS,
    Kind.STEP_CONFIRMED: CREW,
    Kind.STEP_FAILED: CREW | DESK,
    Kind.STEP_LEFT_OUT: LEAD,
    Kind.STEP_MOVED: LEAD,
    Kind.SPELL_BEGUN: HANDS,
    Kind.HOLD: ALL,
    Kind.RESUME: LEAD,
    Kind.TURN_BACK: CREW,
    Kind.CALL_ANSWERED: CREW,
    Kind.CALL_MISSED: DESK,
    Kind.SYMPTOM: ALL,
    Kind.CARD_OPENED: ALL,
    Kind.CARD_STEP_DONE: ALL,
    Kind.CARD_CLOSED: frozenset({Role.LEAD, Role.MEDIC}),
    Kind.ALARM_RAISED: DESK,
    Kind.ALARM_ACKNOWLEDGED: CREW,
    Kind.ALARM_ENDED: DESK,
    Kind.ESTIMATE: DESK,
    Kind.RELEASED: frozenset({Role.MEDIC}),
    Kind.NOTE: ALL | DESK,
    Kind.PAIRED: ALL | DESK,
    Kind.UNPAIRED: ALL | DESK,
    Kind.FAULT_BEGUN: frozenset({Role.TRAINER}),
    Kind.FAULT_ENDED: frozenset({Role.TRAINER}),
    Kind.RESTARTED: DESK,
    Kind.REFUSED: frozenset(),
}
"""In which parts each may be asked for; a stop by anybody at all."""

BEFORE_OPENING = frozenset({Kind.RUN_OPENED, Kind.PAIRED, Kind.UNPAIRED, Kind.NOTE, Kind.RESTARTED})
AFTER_CLOSING = frozenset(
    {
        Kind.NOTE,
        Kind.SYMPTOM,
        Kind.RELEASED,
        Kind.PAIRED,
        Kind.UNPAIRED,
        Kind.ALARM_ACKNOWLEDGED,
        Kind.ALARM_ENDED,
        Kind.CARD_STEP_DONE,
        Kind.CARD_CLOSED,
        Kind.FAULT_ENDED,
        Kind.RESTARTED,
    }
)


def decide(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    """Why a deed is not taken, in words for the person who tapped; empty when it is.

    Args:
        state: Now.
        sheet: Of the day.
        deed: As asked for; of a stop the body as mended.
        now: When it would be committed.
    """
    if deed.kind is Kind.STOP:
        return ""
    return (
        body_fault(deed.kind, deed.body)
        or _wrong_part(sheet, deed)
        or _wrong_time(state, deed)
        or _RULES.get(deed.kind, _nothing)(state, sheet, deed, now)
    )


def _wrong_part(sheet: RunSheet, deed: Deed) -> str:
    roles = WHO[deed.kind]
    if deed.role not in roles:
        parts = listed([role.value for role in Role if role in roles and role is not Role.DESK])
        return f"{deed.kind.value}: for the {parts or 'desk'}, not for the {deed.role.value}"
    if deed.role is not Role.DESK and sheet.people.get(deed.actor) != deed.role.value:
        return f"{deed.actor} is not a {deed.role.value} of this run"
    return ""


def _wrong_time(state: RunState, deed: Deed) -> str:
    if state.opened is None and deed.kind not in BEFORE_OPENING:
        return "the run has not been opened yet"
    if state.closed is not None and deed.kind not in AFTER_CLOSING:
        return "the run is closed"
    return ""


def _stale(deed: Deed, since: float, now: Stamp, what: str) -> str:
    """Why a tap is too old to count now, in words; empty when it is fresh.

    Args:
        deed: As sent.
        since: When what it answers came, on the machine's clock [s].
        now: When it would be committed.
        what: What came, in words.
    """
    age = lateness(deed, now.wall)
    if age is None:
        return ""
    if age < -CLOCKS_AGREE:
        return "the clocks of tablet and desk do not agree; tap again"
    if age > FRESH_FOR:
        return f"it was tapped {lasting_words(age)} ago; look at it now and tap again"
    # After a new start of the machine its clock is younger than what came before.
    if 0.0 <= now.monotonic - since < age:
        return f"it was tapped before {what}; look at it now and tap again"
    return ""


def _nothing(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    return ""


def _run_opened(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    if state.opened is not None:
        return "the run has been opened already"
    if deed.body.get("runs") != [wearer.run.code for wearer in sheet.wearers.values()]:
        return f"this console serves {listed(_runs(sheet), 'and')}"
    if text_in(deed.body, "sheet") != sheet.digest:
        return "the digest is not that of what this console serves"
    return ""


def _runs(sheet: RunSheet) -> list[str]:
    return [wearer.run.code for wearer in sheet.wearers.values()]


def _run_closed(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    if accepted(deed):
        return ""
    inside = [letter for letter in sheet.letters if holds(sheet.inside[letter], state.kit)]
    if inside:
        who = f"wearer {listed(inside, 'and')}"
        return f"as the steps recorded have it, {who} is still in the suit. {HOW_TO_ACCEPT}"
    if state.cards:
        cards = listed([f"{card} for {letter}" for card, letter in state.cards], "and")
        return f"cards are still open: {cards}. {HOW_TO_ACCEPT}"
    return ""


def _spell_begun(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    letter, number = text_in(deed.body, "wearer"), whole_in(deed.body, "spell")
    if letter not in sheet.wearers:
        return _no_wearer(letter)
    count = len(sheet.wearers[letter].run.outing)
    if number >= count:
        return f"the outing of wearer {letter} has {count} spells, from 0"
    present = state.spells.get(letter)
    if present is not None and number <= present.number:
        return f"wearer {letter} is in spell {present.number} already"
    return ""


def _no_wearer(letter: str) -> str:
    return f"there is no wearer {letter} today"


def _of_wearer(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    letter = text_in(deed.body, "wearer")
    return "" if letter in (*sheet.wearers, "") else _no_wearer(letter)


def _hold(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    return f"the run is held already, by {state.hold.by}" if state.hold else ""


def _resume(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    came = [*state.stops, *([state.hold] if state.hold else [])]
    if not came:
        return "the run is neither held nor stopped"
    last = max(came, key=lambda each: each.entry)
    return _stale(deed, last.monotonic, now, f"{last.by} stopped or held the run")


def _turn_back(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    letter = text_in(deed.body, "wearer")
    if letter in state.turned_back:
        return f"wearer {letter} has turned back already, called by {state.turned_back[letter].by}"
    return _of_wearer(state, sheet, deed, now)


def _call(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    letter, number = text_in(deed.body, "wearer"), whole_in(deed.body, "call")
    call = state.calls.get(letter)
    if call is None:
        return f"no calls are due of wearer {letter}"
    if letter in state.released:
        return f"wearer {letter} is released"
    if number != call.number:
        past = "is past" if number < call.number else "has not come"
        return f"call {number} of wearer {letter} {past}; the present one is {call.number}"
    return ""


def _call_answered(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    questions = sheet.calls.questions if sheet.calls else ()
    unknown = [each for each in group_in(deed.body, "answers") if each not in questions]
    if unknown:
        return f'"{unknown[0][:60]}" is not among the questions'
    return _call(state, sheet, deed, now)


def _call_missed(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    if why_not := _call(state, sheet, deed, now):
        return why_not
    late_after = sheet.calls.late_after.nominal if sheet.calls else 0.0
    due = state.calls[text_in(deed.body, "wearer")].due
    return "" if now.run_time >= due + late_after else "it is not late yet"


def _card_opened(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    key = text_in(deed.body, "card"), text_in(deed.body, "wearer")
    if key not in sheet.cards:
        cards = listed(sorted({card for card, _ in sheet.cards})) or "none"
        return f"there is no card {key[0]} for wearer {key[1]}; there are: {cards}"
    if key in state.cards:
        return f"card {key[0]} for wearer {key[1]} is open already, by {state.cards[key].by}"
    return ""


def _card_closed(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    key = text_in(deed.body, "card"), text_in(deed.body, "wearer")
    return "" if key in state.cards else f"card {key[0]} for wearer {key[1]} is not open"


def _card_step_done(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    if why_not := _card_closed(state, sheet, deed, now):
        return why_not
    key, number = (
        (text_in(deed.body, "card"), text_in(deed.body, "wearer")),
        whole_in(deed.body, "step"),
    )
    if sheet.cards[key].step(number) is None:
        return f"card {key[0]} has no step {number}"
    if number in state.cards[key].done:
        return f"step {number} of card {key[0]} is done already"
    return ""


def _alarm_acknowledged(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    alarm = state.alarms.get(text_in(deed.body, "alarm"))
    if alarm is None:
        return "this alarm is over"
    if alarm.acknowledged_by:
        return f"{alarm.acknowledged_by} has acknowledged it already"
    return _stale(deed, alarm.monotonic, now, "the alarm was raised")


def _alarm_ended(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    return "" if text_in(deed.body, "alarm") in state.alarms else "this alarm is over"


def _released(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    letter = text_in(deed.body, "wearer")
    if letter not in sheet.wearers:
        return _no_wearer(letter)
    if letter in state.released:
        return f"wearer {letter} is released already, by {state.released[letter].by}"
    if state.closed is None and not state.progress:
        return "nothing has been done yet"
    if state.closed is None and holds(sheet.inside[letter], state.kit):
        return f"as the steps recorded have it, wearer {letter} is still in the suit"
    return ""


def _paired(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    role, person = text_in(deed.body, "role"), text_in(deed.body, "person")
    if role == Role.WALL.value:
        return "" if not person else "a wall is nobody's"
    if sheet.people.get(person) != role:
        return f"{person or 'nobody'} is not a {role} of this run"
    return ""


def _unpaired(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    device = text_in(deed.body, "device")
    return "" if device in state.paired else f"{device} is not paired"


def _fault(state: RunState, sheet: RunSheet, deed: Deed, now: Stamp) -> str:
    if not sheet.rehearsal:
        return "this is no rehearsal: faults are not put in"
    return _of_wearer(state, sheet, deed, now)


_RULES: Mapping[Kind, Callable[[RunState, RunSheet, Deed, Stamp], str]] = {
    Kind.RUN_OPENED: _run_opened,
    Kind.RUN_CLOSED: _run_closed,
    Kind.PROCEDURE_BEGUN: step_deciding.why_not_begun,
    Kind.PROCEDURE_ENDED: step_deciding.why_not_ended,
    Kind.STEP_DONE: step_deciding.why_not_done,
    Kind.STEP_CONFIRMED: step_deciding.why_not_confirmed,
    Kind.STEP_FAILED: step_deciding.why_not_failed,
    Kind.STEP_LEFT_OUT: step_deciding.why_not_left_out,
    Kind.STEP_MOVED: step_deciding.why_not_moved,
    Kind.SPELL_BEGUN: _spell_begun,
    Kind.HOLD: _hold,
    Kind.RESUME: _resume,
    Kind.TURN_BACK: _turn_back,
    Kind.CALL_ANSWERED: _call_answered,
    Kind.CALL_MISSED: _call_missed,
    Kind.SYMPTOM: _of_wearer,
    Kind.NOTE: _of_wearer,
    Kind.ESTIMATE: _of_wearer,
    Kind.CARD_OPENED: _card_opened,
    Kind.CARD_STEP_DONE: _card_step_done,
    Kind.CARD_CLOSED: _card_closed,
    Kind.ALARM_ACKNOWLEDGED: _alarm_acknowledged,
    Kind.ALARM_ENDED: _alarm_ended,
    Kind.RELEASED: _released,
    Kind.PAIRED: _paired,
    Kind.UNPAIRED: _unpaired,
    Kind.FAULT_BEGUN: _fault,
    Kind.FAULT_ENDED: _fault,
}
