"""What entries about symptom calls, symptoms and emergency cards do to a run's state."""

from __future__ import annotations

from dataclasses import replace

from neckring.live.bodies import text_group_in, text_in, whole_in
from neckring.live.entries import Entry
from neckring.live.entry_reading import letter_of, with_item, without_item
from neckring.live.run_records import CallNow, OpenCard, RunState, SymptomTold
from neckring.live.run_sheet import RunSheet
from neckring.live.sheet_steps import state_with

MOST_SYMPTOMS = 50
FOR_EVER = float("inf")


def calls_begun(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """The first call of each wearer is due a whole time from now."""
    calls = {
        letter: CallNow(1, entry.stamp.run_time + wearer.call_every)
        for letter, wearer in sheet.wearers.items()
        if wearer.call_every is not None
    }
    return replace(state, calls=calls)


def call_answered(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A call is answered; the next is due a whole time later."""
    letter = letter_of(entry, sheet)
    call, every = state.calls.get(letter), _every(letter, sheet)
    if call is None or whole_in(entry.deed.body, "call") != call.number:
        return state
    at = entry.stamp.run_time
    answered = CallNow(
        call.number + 1,
        at + every,
        call.answered + 1,
        0,
        call.missed_ever,
        at,
        text_group_in(entry.deed.body, "answers"),
    )
    return replace(state, calls=with_item(state.calls, letter, answered))


def call_missed(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A call was not answered."""
    letter = letter_of(entry, sheet)
    call, every = state.calls.get(letter), _every(letter, sheet)
    if call is None or whole_in(entry.deed.body, "call") != call.number:
        return state
    missed = replace(
        call,
        number=call.number + 1,
        due=max(call.due + every, entry.stamp.run_time),
        missed=call.missed + 1,
        missed_ever=call.missed_ever + 1,
    )
    return replace(state, calls=with_item(state.calls, letter, missed))


def _every(letter: str, sheet: RunSheet) -> float:
    wearer = sheet.wearers.get(letter)
    every = wearer.call_every if wearer else None
    return FOR_EVER if every is None else every


def symptom(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A symptom is told."""
    deed = entry.deed
    told = SymptomTold(
        letter_of(entry, sheet),
        text_in(deed.body, "words"),
        deed.actor,
        entry.stamp.run_time,
        entry.number,
    )
    kept = (*state.symptoms, told)[-MOST_SYMPTOMS:]
    return replace(state, symptoms=kept, symptoms_told=state.symptoms_told + 1)


def _card_key(entry: Entry) -> tuple[str, str]:
    return text_in(entry.deed.body, "card"), text_in(entry.deed.body, "wearer")


def card_opened(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A card is open."""
    key = _card_key(entry)
    if key not in sheet.cards or key in state.cards:
        return state
    opened = OpenCard(*key, entry.deed.actor, entry.stamp.run_time)
    return replace(state, cards=with_item(state.cards, key, opened))


def card_step_done(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A step of a card is done, and the kit is as the step leaves it."""
    key = _card_key(entry)
    card, number = state.cards.get(key), whole_in(entry.deed.body, "step")
    step = sheet.cards[key].step(number) if card and key in sheet.cards else None
    if card is None or step is None or number in card.done:
        return state
    done = replace(card, done=with_item(card.done, number, entry.stamp.run_time))
    kit = state_with(state.kit, step.exact.effects)
    return replace(state, cards=with_item(state.cards, key, done), kit=kit)


def card_closed(state: RunState, entry: Entry, sheet: RunSheet) -> RunState:
    """A card is closed."""
    return replace(state, cards=without_item(state.cards, _card_key(entry)))
