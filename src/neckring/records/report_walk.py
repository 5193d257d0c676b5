"""A run's kit and people walked through from entry to entry: when what held. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from neckring.live.bodies import text_in, whole_in
from neckring.live.entries import Body, Entry, Kind
from neckring.live.kit_says import kit_says
from neckring.live.run_sheet import RunSheet
from neckring.live.sheet_steps import SheetStep, state_with
from neckring.procedure.model import State, after, holds
from neckring.records.report_course_records import Exposure, Stretch

Effects = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class KitAt:
    """The kit from an instant on."""

    run_time: float
    state: State


def kit_walk(entries: Iterable[Entry], sheet: RunSheet) -> tuple[KitAt, ...]:
    """How the kit stood, where it changes: as the fold of the run has it, without all else.

    Campaigns walk through a thousand runs; the whole fold would take most of their time.

    Args:
        entries: All of the log book.
        sheet: Of the day.
    """
    walker = _Walker(sheet)
    found = [KitAt(0.0, walker.state)]
    for entry in entries:
        step = _WALKED.get(entry.deed.kind)
        if step is None:
            continue
        effects = step(walker, entry.deed.body)
        after_it = state_with(walker.state, effects) if effects else walker.state
        if after_it != walker.state:
            walker.state = after_it
            found.append(KitAt(entry.stamp.run_time, after_it))
    return tuple(found)


class _Walker:
    """What decides whether an entry changes the kit: what has begun, is past, is open."""

    def __init__(self, sheet: RunSheet) -> None:
        self.sheet = sheet
        self.state = sheet.start
        self.past: dict[str, set[int]] = {}
        self.cards: dict[tuple[str, str], set[int]] = {}

    def begun(self, body: Body) -> Effects:
        code = text_in(body, "procedure")
        procedure = self.sheet.procedures.get(code)
        if procedure is None or code in self.past:
            return ()
        self.past[code] = set()
        return procedure.begins

    def done(self, body: Body) -> Effects:
        return self._passed(body, lambda step: step.exact.effects)

    def left_out(self, body: Body) -> Effects:
        return self._passed(body, lambda step: ())

    def _passed(self, body: Body, effects: Callable[[SheetStep], Effects]) -> Effects:
        code, number = text_in(body, "procedure"), whole_in(body, "step")
        past = self.past.get(code)
        step = None if past is None else self.sheet.procedures[code].step(number)
        if past is None or step is None or number in past:
            return ()
        past.add(number)
        return effects(step)

    def card_opened(self, body: Body) -> Effects:
        key = text_in(body, "card"), text_in(body, "wearer")
        if key in self.sheet.cards:
            self.cards.setdefault(key, set())
        return ()

    def card_step(self, body: Body) -> Effects:
        key, number = (text_in(body, "card"), text_in(body, "wearer")), whole_in(body, "step")
        done = self.cards.get(key)
        step = None if done is None else self.sheet.cards[key].step(number)
        if done is None or step is None or number in done:
            return ()
        done.add(number)
        return step.exact.effects

    def card_closed(self, body: Body) -> Effects:
        self.cards.pop((text_in(body, "card"), text_in(body, "wearer")), None)
        return ()


_WALKED: Mapping[Kind, Callable[[_Walker, Body], Effects]] = {
    Kind.PROCEDURE_BEGUN: _Walker.begun,
    Kind.STEP_DONE: _Walker.done,
    Kind.STEP_LEFT_OUT: _Walker.left_out,
    Kind.CARD_OPENED: _Walker.card_opened,
    Kind.CARD_STEP_DONE: _Walker.card_step,
    Kind.CARD_CLOSED: _Walker.card_closed,
}


@dataclass(frozen=True)
class WearerAt:
    """How one wearer stands in a state of the kit.

    Attributes:
        inside: In the suit.
        closed: No fresh air at the face but what something brings to it.
        pack: That something is the pack's fans.
    """

    inside: bool
    closed: bool
    pack: bool


class KitReader:
    """What kit states say of wearers; each state is read once, however often it comes."""

    def __init__(self, sheet: RunSheet) -> None:
        self._ground = sheet.ground
        self._breakdowns = tuple(sheet.ground.breakdowns())
        self._known: dict[tuple[State, str], WearerAt] = {}

    def of(self, state: State, letter: str) -> WearerAt:
        """How a wearer stands in a state."""
        key = state, letter
        if key not in self._known:
            self._known[key] = self._read(state, letter)
        return self._known[key]

    def _read(self, state: State, letter: str) -> WearerAt:
        says = kit_says(self._ground, state, letter)
        left = kit_says(self._ground, self._all_broken(state), letter)
        return WearerAt(
            says.inside,
            closed=says.inside and not left.fresh_air,
            pack=says.inside and not says.without_fans,
        )

    def _all_broken(self, state: State) -> State:
        """The kit once everything has broken down that can: nothing brings air any more."""
        for _ in self._breakdowns:
            before = state
            for act in self._breakdowns:
                if holds(act.guard, state):
                    state = after(act, state)
            if state == before:
                break
        return state


def stretches(
    walk: Sequence[KitAt], until: float, held: Callable[[State], bool]
) -> tuple[Stretch, ...]:
    """When something held of the kit.

    Args:
        walk: Of the run.
        until: End of the run [s].
        held: Whether it does in a state.
    """
    found: list[Stretch] = []
    ends = [*(at.run_time for at in walk[1:]), until]
    for at, end in zip(walk, ends, strict=True):
        if not held(at.state) or end <= at.run_time:
            continue
        if found and found[-1].ends == at.run_time:
            found[-1] = Stretch(found[-1].begins, end)
        else:
            found.append(Stretch(at.run_time, end))
    return tuple(found)


def exposure(
    walk: Sequence[KitAt], reader: KitReader, letter: str, until: float, away: Iterable[Stretch]
) -> Exposure:
    """How long a wearer was in the suit, closed in, away and on the pack.

    Args:
        walk: The kit through the run.
        reader: Of its states.
        letter: A or B.
        until: End of the run [s].
        away: When the wearer was away.
    """

    def how_long(held: Callable[[WearerAt], bool]) -> float:
        return total(stretches(walk, until, lambda state: held(reader.of(state, letter))))

    return Exposure(
        letter,
        how_long(lambda at: at.inside),
        how_long(lambda at: at.closed),
        total(away),
        how_long(lambda at: at.pack),
    )


def total(some: Iterable[Stretch]) -> float:
    """How long stretches last together [s]."""
    return sum(each.lasts for each in some)


def merged(some: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """Stretches without overlaps, in order."""
    found: list[Stretch] = []
    for each in sorted(some, key=lambda one: (one.begins, one.ends)):
        if each.lasts <= 0.0:
            continue
        if found and each.begins <= found[-1].ends:
            found[-1] = Stretch(found[-1].begins, max(found[-1].ends, each.ends))
        else:
            found.append(each)
    return tuple(found)


def without(some: Iterable[Stretch], others: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """What of some stretches no other covers."""
    left = list(merged(some))
    for other in merged(others):
        left = [part for each in left for part in _cut(each, other)]
    return tuple(left)


def within(some: Iterable[Stretch], others: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """What two groups of stretches share."""
    other = merged(others)
    shared = (
        Stretch(max(a.begins, b.begins), min(a.ends, b.ends)) for a in merged(some) for b in other
    )
    return tuple(each for each in shared if each.lasts > 0.0)


def _cut(each: Stretch, other: Stretch) -> Iterator[Stretch]:
    if other.ends <= each.begins or other.begins >= each.ends:
        yield each
        return
    for part in (Stretch(each.begins, other.begins), Stretch(other.ends, each.ends)):
        if part.lasts > 0.0:
            yield part
