"""The state of a run as a fold over its entries: pure, total, the same whatever the chunking.

What was decided when a deed was taken is not decided again here: every entry that stands in the
book counts. An entry that names what is not there changes nothing, so that no book can stop the
console from coming back.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from neckring.live import call_folds, step_folds, watch_folds
from neckring.live.bodies import text_group_in, text_in, texts_in, whole_in
from neckring.live.entries import SCHEMA, BookError, Entry, Kind
from neckring.live.entry_reading import held_by, letter_of, with_item
from neckring.live.run_records import RunState, SpellNow, Stopped
from neckring.live.run_sheet import RunSheet

MOST_STOPS = 20
MOST_CHANGED = 200


class NewerSchemaError(BookError):
    """An entry was written by a newer neckring than this one."""


def first_state(sheet: RunSheet) -> RunState:
    """Before anything is recorded."""
    return RunState(kit=sheet.start)


def fold_all(sheet: RunSheet, entries: Iterable[Entry], state: RunState | None = None) -> RunState:
    """What some entries add up to.

    Args:
        sheet: Of the day.
        entries: In order.
        state: What those before add up to; None for none.
    """
    now = state or first_state(sheet)
    for entry in entries:
        now = fold(now, entry, sheet)
    return now


def fold(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """The state after one more entry.

    Args:
        state: Before.
        entry: The next one.
        sheet: Of the day.

    Raises:
        NewerSchemaError: It was written by a newer neckring, so what it says is not known.
    """
    if entry.schema > SCHEMA:
        raise NewerSchemaError(
            f"entry {entry.number} has schema {entry.schema}; this neckring knows {SCHEMA} at most"
        )
    changed = _FOLDS[entry.deed.kind](state, entry, sheet)
    if changed.kit is not state.kit:
        clocks = step_folds.clocks_after(changed, state.kit, entry, sheet)
        changed = replace(changed, clocks=clocks)
    return changed.counted(entry.number, max(state.run_time, entry.stamp.run_time))


# The run itself


def _run_opened(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    body = entry.deed.body
    return replace(
        state,
        opened=entry.stamp.wall if state.opened is None else state.opened,
        sheet=text_in(body, "sheet"),
        parts=text_group_in(body, "parts"),
        boot=text_in(body, "boot"),
    )


def _run_closed(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    return replace(state, closed=entry.stamp.run_time) if state.closed is None else state


def _restarted(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    body = entry.deed.body
    changed = dict.fromkeys((*state.changed, *texts_in(body, "changed")))
    return replace(
        state,
        restarts=state.restarts + 1,
        boot=text_in(body, "boot") or state.boot,
        sheet=text_in(body, "sheet") or state.sheet,
        parts=text_group_in(body, "parts") or state.parts,
        changed=tuple(changed)[:MOST_CHANGED],
    )


def _refused(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    return replace(state, refused=state.refused + 1)


def _nothing(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    return state


# Hold, stop, turn back


def _hold(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    return replace(state, hold=state.hold or held_by(entry))


def _stop(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """Whom a stop names is stopped; of very many the first and the last ones are kept."""
    held, letter = held_by(entry), letter_of(entry, sheet)
    whom = frozenset((letter,) if letter else sheet.letters)
    if len(state.stops) >= MOST_STOPS:
        # Nobody goes on because a stop is not kept any more.
        whom |= state.stops[1].wearers
    stopped = Stopped(
        held.by, held.reason, held.run_time, held.monotonic, held.late, held.entry, whom
    )
    kept = state.stops if len(state.stops) < MOST_STOPS else state.stops[:1] + state.stops[2:]
    return replace(state, stops=(*kept, stopped))


def _resume(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    return replace(state, hold=None, stops=())


def _turn_back(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    letter = letter_of(entry, sheet)
    if not letter or letter in state.turned_back:
        return state
    return replace(state, turned_back=with_item(state.turned_back, letter, held_by(entry)))


def _released(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    letter = letter_of(entry, sheet)
    if not letter:
        return state
    return replace(state, released=with_item(state.released, letter, held_by(entry)))


def _spell_begun(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    letter, number = letter_of(entry, sheet), whole_in(entry.deed.body, "spell")
    if not letter or not 0 <= number < len(sheet.wearers[letter].run.outing):
        return state
    spell = SpellNow(number, entry.stamp.run_time)
    return replace(state, spells=with_item(state.spells, letter, spell))


_FOLDS: Mapping[Kind, Callable[[RunState, Entry, RunSheet], RunState]] = {
    Kind.RUN_OPENED: _run_opened,
    Kind.RUN_CLOSED: _run_closed,
    Kind.PROCEDURE_BEGUN: step_folds.procedure_begun,
    Kind.PROCEDURE_ENDED: step_folds.procedure_ended,
    Kind.STEP_DONE: step_folds.step_done,
    Kind.STEP_CONFIRMED: step_folds.step_confirmed,
    Kind.STEP_FAILED: step_folds.step_failed,
    Kind.STEP_LEFT_OUT: step_folds.step_left_out,
    Kind.STEP_MOVED: step_folds.step_moved,
    Kind.SPELL_BEGUN: _spell_begun,
    Kind.HOLD: _hold,
    Kind.STOP: _stop,
    Kind.RESUME: _resume,
    Kind.TURN_BACK: _turn_back,
    Kind.CALL_ANSWERED: call_folds.call_answered,
    Kind.CALL_MISSED: call_folds.call_missed,
    Kind.SYMPTOM: call_folds.symptom,
    Kind.CARD_OPENED: call_folds.card_opened,
    Kind.CARD_STEP_DONE: call_folds.card_step_done,
    Kind.CARD_CLOSED: call_folds.card_closed,
    Kind.ALARM_RAISED: watch_folds.alarm_raised,
    Kind.ALARM_ACKNOWLEDGED: watch_folds.alarm_acknowledged,
    Kind.ALARM_ENDED: watch_folds.alarm_ended,
    Kind.ESTIMATE: watch_folds.estimate,
    Kind.RELEASED: _released,
    Kind.NOTE: _nothing,
    Kind.PAIRED: watch_folds.paired,
    Kind.UNPAIRED: watch_folds.unpaired,
    Kind.FAULT_BEGUN: watch_folds.fault_begun,
    Kind.FAULT_ENDED: watch_folds.fault_ended,
    Kind.RESTARTED: _restarted,
    Kind.REFUSED: _refused,
}
