"""How long the moves of a kit really took: from the times at which steps were recorded.

A step's time is what lies between the record before it in its lane, or the beginning of the
procedure, and its own. It counts only where nothing else lay between. Quantiles are those of type
8; the band of the median stands on order statistics alone.

Source: `live.drill_times`, which names the sources of both.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from neckring.calibration.findings import Place, StepTime
from neckring.calibration.written import seconds_text
from neckring.live.bodies import text_in, whole_in
from neckring.live.drill_times import quantile, quantile_band
from neckring.live.entries import Entry, Kind
from neckring.live.entry_reading import lateness
from neckring.station.kit import Kit
from neckring.station.lasting import LONGEST, SHORTEST, Lasting
from neckring.station.procedure_sheet import ProcedureSheet, StepText

FEWEST = 5
"""With fewer times nothing is proposed; practice."""
MANY = 20
"""From so many on, times may also narrow what is written; fewer may only widen it; practice."""
LATE = 3.0
"""A tap that was sent so much later than it was made tells no time [s]; assumed."""
LOW, HIGH = 0.05, 0.95

BREAKS = {
    Kind.HOLD: "a hold or stop lay in it",
    Kind.STOP: "a hold or stop lay in it",
    Kind.RESUME: "a hold or stop lay in it",
    Kind.CARD_OPENED: "an emergency card lay in it",
    Kind.CARD_CLOSED: "an emergency card lay in it",
    Kind.RESTARTED: "the console came back in it",
    Kind.STEP_FAILED: "a sign was not there",
    Kind.STEP_LEFT_OUT: "a step was left out before it",
    Kind.STEP_MOVED: "steps were moved in it",
    Kind.CALL_MISSED: "a call was missed in it",
}
"""What makes a time mean something else, and why it is left out."""
SENT_LATE = "a tap was sent late"
TOO_SHORT = f"below {SHORTEST:g} s: ticked together with another"
TOO_LONG = f"above {LONGEST / 60.0:.0f} min: something else was done"


@dataclass(frozen=True)
class Timed:
    """One step as it was done.

    Attributes:
        kit: Code.
        move: Of the kit.
        took: [s]
        run: Of which kept folder.
        left_out: Why it does not count; empty when it does.
    """

    kit: str
    move: str
    took: float
    run: str
    left_out: str = ""


@dataclass
class _Lanes:
    """Where each lane of the procedure now running stands."""

    since: dict[str, float] = field(default_factory=dict)
    broken: dict[str, str] = field(default_factory=dict)
    begun: float = 0.0

    def begin(self, now: float) -> None:
        self.since.clear()
        self.broken.clear()
        self.begun = now

    def last(self, lane: str) -> float:
        return self.since.get(lane, self.begun)

    def breaks(self, why: str) -> None:
        for lane in ("A", "B", "tender"):
            self.broken.setdefault(lane, why)

    def goes_on(self, lane: str, now: float, why: str = "") -> None:
        self.since[lane] = now
        self.broken.pop(lane, None)
        if why:
            self.broken[lane] = why


def timed_steps(
    entries: Iterable[Entry], procedures: Mapping[str, ProcedureSheet], run: str
) -> Iterator[Timed]:
    """Every move of a run's procedures with its time, in order; also those that do not count.

    Args:
        entries: Of the log book, in order.
        procedures: Of the station, by code.
        run: Name of the kept folder.
    """
    lanes = _Lanes()
    for entry in entries:
        kind, now = entry.deed.kind, entry.stamp.run_time
        if kind is Kind.PROCEDURE_BEGUN:
            lanes.begin(now)
        elif kind is Kind.STEP_DONE:
            sheet = procedures.get(text_in(entry.deed.body, "procedure"))
            step = _step(sheet, whole_in(entry.deed.body, "step"))
            if sheet is not None and step is not None:
                yield from _done(lanes, entry, sheet, step, run)
        if kind in BREAKS:
            lanes.breaks(BREAKS[kind])


def _step(sheet: ProcedureSheet | None, number: int) -> StepText | None:
    return sheet.steps[number - 1] if sheet and 1 <= number <= len(sheet.steps) else None


def _done(
    lanes: _Lanes, entry: Entry, sheet: ProcedureSheet, step: StepText, run: str
) -> Iterator[Timed]:
    now = entry.stamp.run_time
    late = lateness(entry.deed, entry.stamp.wall)
    is_late = late is not None and abs(late) > LATE
    whose = step.meet or (step.who or "",)
    for lane in whose:
        if step.move is not None:
            took = now - lanes.last(lane)
            why = SENT_LATE if is_late else lanes.broken.get(lane, "") or _out_of_range(took)
            yield Timed(sheet.kit, step.move, took, run, why)
        lanes.goes_on(lane, now, SENT_LATE if is_late else "")


def _out_of_range(took: float) -> str:
    if took < SHORTEST:
        return TOO_SHORT
    return TOO_LONG if took > LONGEST else ""


def step_times(timed: Iterable[Timed], kits: Mapping[str, Kit]) -> tuple[StepTime, ...]:
    """What the times of all runs say of each move that was done.

    Args:
        timed: Of all runs.
        kits: Of the station, by code.
    """
    by_move: dict[tuple[str, str], list[Timed]] = {}
    for one in timed:
        if one.kit in kits and one.move in kits[one.kit].moves:
            by_move.setdefault((one.kit, one.move), []).append(one)
    return tuple(_of_move(kits[kit], move, mine) for (kit, move), mine in sorted(by_move.items()))


def _of_move(kit: Kit, name: str, mine: Sequence[Timed]) -> StepTime:
    move = kit.moves[name]
    counted = [one for one in mine if not one.left_out]
    took = [one.took for one in counted]
    runs = len({one.run for one in counted})
    left_out = dict(Counter(one.left_out for one in mine if one.left_out))
    place = Place("kit", kit.code, ("moves", name, "takes"))
    written = _lasting_text(move.takes)
    if len(took) < FEWEST:
        note = f"{len(took)} of at least {FEWEST} times: nothing is proposed yet"
        return StepTime(
            kit.code, name, move.words, written, len(took), runs, left_out,
            None, None, None, (None, None), False, place, "", note,
        )  # fmt: skip
    low, likely, high = (quantile(took, share) for share in (LOW, 0.5, HIGH))
    band = quantile_band(took, 0.5)
    more, proposed, note = _verdict(move.takes, took, (low, likely, high), band)
    return StepTime(
        kit.code, name, move.words, written, len(took), runs, left_out,
        low, likely, high, band, more, place, proposed, note,
    )  # fmt: skip


def _verdict(
    written: Lasting,
    took: Sequence[float],
    points: tuple[float, float, float],
    band: tuple[float | None, float | None],
) -> tuple[bool, str, str]:
    """Whether times say more than what is written, what is proposed, and what stands for it."""
    low, likely, high = points
    is_below = band[0] is not None and written.likely < band[0]
    is_above = band[1] is not None and written.likely > band[1]
    is_wider = min(took) < written.low or max(took) > written.high
    if len(took) < MANY:
        low, high = min(low, min(took), written.low), max(high, max(took), written.high)
        if not (is_below or is_above):
            likely = written.likely
        note = f"fewer than {MANY} times may widen what is written, not narrow it"
    else:
        note = f"{len(took)} times: 5th percentile, median and 95th percentile"
    more = is_below or is_above or is_wider or len(took) >= MANY
    text = seconds_text(low, likely, high)
    if not more or text == _lasting_text(written):
        return False, "", "agrees with what is written: nothing is proposed"
    return True, text, note


def _lasting_text(lasting: Lasting) -> str:
    points = dict.fromkeys(f"{p:g}" for p in (lasting.low, lasting.likely, lasting.high))
    return f"{'..'.join(points)} s"
