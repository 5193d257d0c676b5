"""What the pages show of a run as it stands: frozen records, times in seconds of run time.

Pure: from state, sheet and estimates. The same views serve live pages, the replay and the API.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from neckring.live.estimated import Band, Estimated, LiveSlack, Suspicion
from neckring.live.reserve_clocks import ClockValue, clock_values
from neckring.live.run_records import CallNow, Done, RunState, StepRecord
from neckring.live.run_sheet import RunSheet
from neckring.live.sheet_steps import SheetProcedure, SheetStep
from neckring.live.turns import next_step, not_yet, steps_left
from neckring.records.presentation import presentation_of
from neckring.station.run import Spell

TENDER = "tender"
LANE_NAMES = {"A": "Wearer A", "B": "Wearer B", TENDER: "Tender"}
SHOWN_LATER = 4
LATE = 3.0
"""A stop that arrived later than this after it was tapped is said to [s]."""
LEAST_SHOWN = 3
"""So many failures are shown, those with the least slack."""


@dataclass(frozen=True)
class StepView:
    """One step of a lane.

    Attributes:
        step: As carried out.
        record: What is known of it.
        waits: Why it is not its turn yet, in words; empty when it is.
    """

    step: SheetStep
    record: StepRecord
    waits: str = ""

    @property
    def to_confirm(self) -> bool:
        """Whether a second person's check is what is missing."""
        return self.record.status is Done.TO_CONFIRM

    @property
    def failed(self) -> bool:
        """Whether its sign was not there the last time."""
        return self.record.status is Done.FAILED


@dataclass(frozen=True)
class LaneView:
    """What one person does in the present procedure.

    Attributes:
        lane: A, B or tender.
        name: In words.
        next: The step whose turn it is; None when the lane is through, or nothing runs.
        later: Those after it.
    """

    lane: str
    name: str
    next: StepView | None
    later: tuple[SheetStep, ...] = ()


@dataclass(frozen=True)
class ClockView:
    """A clock that runs.

    Attributes:
        label: What it counts.
        until: When it has run out [s]; None when nobody knows.
        words: What is said in place of a countdown, or beside it.
        over: Whether it has.
    """

    label: str
    until: float | None
    words: str = ""
    over: bool = False


@dataclass(frozen=True)
class SlackView:
    """One failure held against help.

    Attributes:
        words: What fails.
        middle: Slack in words.
        band: From where to where.
        limit: Which limit is crossed first.
        short: Whether less may be left than the policy keeps free.
    """

    words: str
    middle: str
    band: str
    limit: str
    short: bool


@dataclass(frozen=True)
class WearerView:
    """One wearer.

    Attributes:
        letter: A or B.
        code: Of the wearer.
        suit: Code of the suit.
        standing: In words: stopped, on the way home, released ...
        spell: What is being done now by the plan's words; empty before the first.
        spell_number: From 0; -1 before the first.
        next_spell: What would be begun next; empty for nothing.
        clocks: That run.
        call: Symptom calls; None when nobody calls.
        binding: What binds, in words; empty while nothing is estimated.
        slacks: The failures with the least slack.
        suspicions: What may be wrong, in words, with the first thing to do.
        estimated: For which run time [s]; None while nothing is.
        stands_on: Channels the estimate used, in words.
        left_out: Channels it did not, each with the reason.
        symptoms: Told and not released.
        released: By whom; empty while not.
    """

    letter: str
    code: str
    suit: str
    standing: str
    spell: str
    spell_number: int
    next_spell: str
    clocks: tuple[ClockView, ...]
    call: CallNow | None
    binding: str
    slacks: tuple[SlackView, ...]
    suspicions: tuple[str, ...]
    estimated: float | None
    stands_on: str
    left_out: tuple[str, ...]
    symptoms: tuple[str, ...]
    released: str


def span_words(seconds: float) -> str:
    """A length of time in words, rounded down so that nothing seems longer than it is."""
    if not math.isfinite(seconds):
        return "no end in sight" if seconds > 0 else "none"
    sign, whole = ("\N{MINUS SIGN}", math.ceil(-seconds)) if seconds < 0 else ("", int(seconds))
    return f"{sign}{whole}\u00a0s" if whole < 120 else f"{sign}{whole // 60}\u00a0min"


def clock_words(seconds: float) -> str:
    """A run time as 1:02:03 or 02:03."""
    whole = max(0, int(seconds))
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes:02d}:{rest:02d}"


def speed_words(speed: float) -> str:
    """How fast a rehearsal goes; nothing at the speed of real time."""
    return f" at {speed:g} times real time" if speed != 1.0 else ""


def band_words(band: Band) -> str:
    """From where to where a length of time may be."""
    high = span_words(band.high) if math.isfinite(band.high) else "no end"
    return f"{span_words(band.low)} to {high}"


def standing_words(state: RunState) -> tuple[str, str, str]:
    """How the run stands: a class, a word, and a sentence."""
    if state.closed is not None:
        return "held", "Closed", f"The run was closed at {clock_words(state.closed)}."
    if state.opened is None:
        return "held", "Not opened", "The run has not been opened yet."
    if state.stops:
        first = state.stops[0]
        whom = " and ".join(sorted(state.stopped))
        others = f", and {len(state.stops) - 1} more" if len(state.stops) > 1 else ""
        why = f": {first.reason}" if first.reason else ""
        late = (
            f" It was tapped {span_words(first.late)} earlier."
            if first.late and first.late > 3.0
            else ""
        )
        return (
            "stopped",
            f"STOP for {whom}",
            f"Called by {first.by} at {clock_words(first.run_time)}{others}{why}.{late}",
        )
    if state.hold is not None:
        why = f": {state.hold.reason}" if state.hold.reason else ""
        at = clock_words(state.hold.run_time)
        return "held", "Hold", f"Called by {state.hold.by} at {at}{why}."
    return "going", "Going", ""


def procedure_now(state: RunState, sheet: RunSheet) -> SheetProcedure | None:
    """The procedure that runs."""
    return sheet.procedures.get(state.procedure)


def procedure_next(state: RunState, sheet: RunSheet) -> SheetProcedure | None:
    """The one that would be begun next."""
    if state.procedure:
        return None
    return next((p for code, p in sheet.procedures.items() if code not in state.progress), None)


def lane_views(state: RunState, sheet: RunSheet) -> tuple[LaneView, ...]:
    """Every lane of the present procedure."""
    procedure = procedure_now(state, sheet)
    lanes = procedure.lanes if procedure else (*sheet.letters, TENDER)
    return tuple(_lane_view(lane, state, sheet, procedure) for lane in lanes)


def _lane_view(
    lane: str, state: RunState, sheet: RunSheet, procedure: SheetProcedure | None
) -> LaneView:
    name = LANE_NAMES.get(lane, lane)
    nearest = next_step(state, sheet, lane)
    if procedure is None or nearest is None:
        return LaneView(lane, name, None)
    progress = state.progress[procedure.code]
    later = [step for step in steps_left(state, sheet) if lane in step.lanes]
    waits = not_yet(state, sheet, nearest)
    view = StepView(nearest, progress.of(nearest.number), waits)
    return LaneView(lane, name, view, tuple(later[1 : 1 + SHOWN_LATER]))


def wearer_views(
    state: RunState, sheet: RunSheet, estimates: Mapping[str, Estimated], run_time: float
) -> tuple[WearerView, ...]:
    """Every wearer.

    Args:
        state: Now.
        sheet: Of the day.
        estimates: The last ones, by letter.
        run_time: Now [s].
    """
    return tuple(
        _wearer_view(letter, state, sheet, estimates.get(letter), run_time)
        for letter in sheet.letters
    )


def _wearer_view(
    letter: str, state: RunState, sheet: RunSheet, estimate: Estimated | None, run_time: float
) -> WearerView:
    wearer = sheet.wearers[letter]
    spell = state.spells.get(letter)
    number = spell.number if spell else -1
    outing = wearer.run.outing
    released = state.released.get(letter)
    return WearerView(
        letter,
        wearer.code,
        wearer.run.suit,
        _wearer_standing(letter, state),
        spell_words(outing[number]) if number >= 0 else "",
        number,
        spell_words(outing[number + 1]) if number + 1 < len(outing) else "",
        tuple(
            _clock_view(value, run_time)
            for value in clock_values(state, sheet, run_time)
            if value.wearer == letter
        ),
        state.calls.get(letter) if letter not in state.released else None,
        estimate.binding if estimate else "",
        tuple(_slack_view(each) for each in estimate.failures[:LEAST_SHOWN]) if estimate else (),
        tuple(_suspicion_words(each) for each in estimate.suspicions) if estimate else (),
        estimate.run_time if estimate else None,
        ", ".join(estimate.stands_on) if estimate else "",
        tuple(f"{name}: {why}" for name, why in estimate.left_out.items()) if estimate else (),
        tuple(
            f"{each.words} (told at {clock_words(each.run_time)}, recorded by {each.by})"
            for each in state.symptoms
            if each.wearer == letter and (not released or each.entry > released.entry)
        ),
        f"{released.by} at {clock_words(released.run_time)}" if released else "",
    )


def spell_words(spell: Spell) -> str:
    """A spell as people speak of it: "walk, yard to floor"."""
    words = f"{spell.spell}, {' to '.join(spell.places)}"
    return f"{words} ({spell.note})" if spell.note else words


def _wearer_standing(letter: str, state: RunState) -> str:
    words = []
    if letter in state.stopped:
        words.append("STOPPED")
    if letter in state.turned_back:
        words.append("turned for home")
    if letter in state.released:
        words.append("released by the medic")
    return ", ".join(words) or "in the run"


def _clock_view(value: ClockValue, run_time: float) -> ClockView:
    until = None if value.left is None else run_time + value.left
    said_by = f"by the {value.stands_on}" if value.stands_on else "nothing says how long"
    return ClockView(
        value.words, until, said_by.replace("the station.yaml", "station.yaml"), value.over
    )


def _slack_view(failure: LiveSlack) -> SlackView:
    limit = presentation_of(failure.limit).label
    short = failure.slack.low < failure.reserve
    return SlackView(
        failure.words, span_words(failure.slack.middle), band_words(failure.slack), limit, short
    )


def _suspicion_words(suspicion: Suspicion) -> str:
    chance = f"{100 * suspicion.chance:.0f} in 100"
    return f"Perhaps {suspicion.words} ({chance}). {suspicion.first_action}"
