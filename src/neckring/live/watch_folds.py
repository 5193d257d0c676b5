"""What entries about alarms, estimates, devices and a rehearsal's faults do to a run's state."""

from __future__ import annotations

from dataclasses import replace

from neckring.live.bodies import LETTERS, number_in, text_in, texts_in, whole_in
from neckring.live.entries import Entry
from neckring.live.entry_reading import letter_of, with_item, without_item
from neckring.live.run_records import AlarmNow, EstimateNow, FaultNow, Pairing, RunState
from neckring.live.run_sheet import RunSheet

MOST_ALARMS = 500
MOST_DEVICES = 200
MOST_FAULTS = 200


def alarm_raised(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """An alarm begins, or gets worse: then nobody has acknowledged it yet."""
    body, stamp = entry.deed.body, entry.stamp
    key = text_in(body, "alarm")
    if not key or (key not in state.alarms and len(state.alarms) >= MOST_ALARMS):
        return state
    alarm = AlarmNow(
        key,
        min(3, max(1, whole_in(body, "rank"))),
        text_in(body, "cause"),
        text_in(body, "wearer"),
        text_in(body, "words"),
        text_in(body, "first_action"),
        texts_in(body, "also"),
        stamp.run_time,
        stamp.monotonic,
    )
    return replace(state, alarms=with_item(state.alarms, key, alarm))


def alarm_acknowledged(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """Somebody knows of an alarm."""
    key = text_in(entry.deed.body, "alarm")
    alarm = state.alarms.get(key)
    if alarm is None or alarm.acknowledged_by:
        return state
    known = replace(alarm, acknowledged_by=entry.deed.actor, acknowledged=entry.stamp.run_time)
    return replace(state, alarms=with_item(state.alarms, key, known))


def alarm_ended(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """The cause of an alarm is gone."""
    return replace(state, alarms=without_item(state.alarms, text_in(entry.deed.body, "alarm")))


def estimate(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """What is believed of a wearer now; the one before is forgotten."""
    letter = letter_of(entry, sheet)
    if not letter:
        return state
    estimate = EstimateNow(entry.deed.body, entry.stamp.run_time)
    return replace(state, estimates=with_item(state.estimates, letter, estimate))


def paired(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A device may write."""
    body = entry.deed.body
    device = text_in(body, "device")
    if not device or (device not in state.paired and len(state.paired) >= MOST_DEVICES):
        return state
    pairing = Pairing(text_in(body, "role"), text_in(body, "person"), entry.stamp.run_time)
    return replace(state, paired=with_item(state.paired, device, pairing))


def unpaired(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A device may not write any more."""
    return replace(state, paired=without_item(state.paired, text_in(entry.deed.body, "device")))


def fault_begun(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """The trainer puts in a fault."""
    key = text_in(entry.deed.body, "wearer"), text_in(entry.deed.body, "fault")
    if key[0] not in LETTERS or (key not in state.faults and len(state.faults) >= MOST_FAULTS):
        return state
    share = number_in(entry.deed.body, "share")
    fault = FaultNow(1.0 if share is None else share, entry.stamp.run_time)
    return replace(state, faults=with_item(state.faults, key, fault))


def fault_ended(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """The trainer takes a fault out."""
    key = text_in(entry.deed.body, "wearer"), text_in(entry.deed.body, "fault")
    return replace(state, faults=without_item(state.faults, key))
