"""From a procedure as written to its exact steps, begun where the one before it ends."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from neckring.procedure.grounding import TENDER, Doing, GroundKit, duration, ground, simplified
from neckring.procedure.model import Action, Model, State, after, holds
from neckring.procedure.steps import CheckKind, Procedure, Step, StepKind
from neckring.station.kit import Kit
from neckring.station.procedure_sheet import ProcedureSheet, StepText


@dataclass(frozen=True)
class Listed:
    """A procedure made exact, with what it was made from.

    Attributes:
        sheet: As written.
        ground: Its kit on its wearers.
        procedure: Made exact.
    """

    sheet: ProcedureSheet
    ground: GroundKit
    procedure: Procedure

    def step(self, number: int) -> StepText:
        """A step as written, by its printed number."""
        return self.sheet.steps[number - 1]


def listed(
    code: str,
    sheets: Mapping[str, ProcedureSheet],
    kits: Mapping[str, Kit],
    clocks: Mapping[str, float] | None = None,
) -> Listed:
    """Make a procedure exact.

    Args:
        code: Of the procedure.
        sheets: All procedures by code; their references are in order.
        kits: All kits by code.
        clocks: Harm clocks [s] by code of failure, where a plan has computed them.
    """
    sheet = sheets[code]
    anywhere = ground(kits[sheet.kit], sheet.wearers)
    starts = _start(sheet, sheets, kits, anywhere)
    variables = tuple(
        replace(variable, start=value)
        for variable, value in zip(anywhere.variables, starts, strict=True)
    )
    on_kit = replace(anywhere, variables=variables)
    lanes = _lanes(sheet)
    steps = tuple(
        _Writer(on_kit, sheet, lanes).step(number, step)
        for number, step in enumerate(sheet.steps, start=1)
    )
    return Listed(
        sheet,
        on_kit,
        Procedure(
            # Where things stand at the start changes nothing in what may be done with them.
            replace(anywhere.model(disciplined=False), name=code, variables=variables),
            on_kit.timed(clocks or {}),
            lanes,
            steps,
            tuple(on_kit.breakdowns()),
            simplified(on_kit.condition(sheet.ends)),
        ),
    )


def _start(
    sheet: ProcedureSheet,
    sheets: Mapping[str, ProcedureSheet],
    kits: Mapping[str, Kit],
    on_kit: GroundKit,
) -> State:
    """The state in which a procedure begins."""
    if sheet.after is None:
        state = list(Model("", on_kit.variables, ()).start)
    else:
        state = list(end_of(listed(sheet.after, sheets, kits).procedure))
    for name, value in sheet.begins.items():
        number = on_kit.numbers[name]
        state[number] = on_kit.variables[number].states.index(value)
    return tuple(state)


def states_as_written(procedure: Procedure) -> tuple[State, ...]:
    """State before each step as written, and at the end; what cannot be done changes nothing."""
    states = [procedure.model.start]
    for step in procedure.steps:
        state = states[-1]
        if step.kind is StepKind.MOVE and holds(step.guard, state):
            state = after(Action(step.name, step.guard, step.effects), state)
        states.append(state)
    return tuple(states)


def end_of(procedure: Procedure) -> State:
    """The state in which a procedure ends when every move that can be done is done as written."""
    return states_as_written(procedure)[-1]


def _lanes(sheet: ProcedureSheet) -> tuple[str, ...]:
    """Everybody who does something, the wearers first."""
    acting = {step.who for step in sheet.steps if step.who is not None}
    acting |= {person for step in sheet.steps for person in step.meet or ()}
    return tuple(person for person in ("A", "B", TENDER) if person in acting)


@dataclass(frozen=True)
class _Writer:
    """Makes the steps of one procedure exact."""

    ground: GroundKit
    sheet: ProcedureSheet
    lanes: tuple[str, ...]

    def step(self, number: int, text: StepText) -> Step:
        if text.meet is not None:
            lanes = frozenset(self.lanes.index(person) for person in text.meet)
            return Step(number, -1, StepKind.MEET, "meet", meets=lanes)
        lane = self.lanes.index(text.who or "")
        if text.move is not None:
            return self._move(number, lane, text, text.move)
        if text.check is not None:
            return self._check(number, lane, text, text.check)
        return Step(number, lane, StepKind.SAY, text.tell or "")

    def _move(self, number: int, lane: int, text: StepText, code: str) -> Step:
        doing = Doing(code, text.target, text.who or "")
        move = self.ground.kit.moves[code]
        half = self.ground.effects(move.half, text.target) if move.half is not None else None
        return Step(
            number,
            lane,
            StepKind.MOVE,
            doing.name,
            self.ground.needs(doing),
            self.ground.effects(move.changes, text.target),
            half,
            tuple(self._other_moves(doing)),
            duration(move.takes),
        )

    def _other_moves(self, doing: Doing) -> Iterator[Action]:
        """What the same person may do by mistake: the same to another, or another of its kind."""
        kind = self.ground.kit.moves[doing.move].kind
        for other in self.ground.doings():
            alike = kind is not None and self.ground.kit.moves[other.move].kind == kind
            if other.by == doing.by and other != doing and (other.move == doing.move or alike):
                yield self.ground.action(other, disciplined=False)

    def _check(self, number: int, lane: int, text: StepText, code: str) -> Step:
        sign = self.ground.kit.signs[code]
        return Step(
            number,
            lane,
            StepKind.CHECK,
            f"{code} of {text.target}",
            simplified(self.ground.condition(sign.when, text.target)),
            others=tuple(self._other_signs(code, text)),
            duration=duration(sign.takes),
            check=CheckKind(text.how),
        )

    def _other_signs(self, code: str, text: StepText) -> Iterator[Action]:
        """What the same person may look at by mistake."""
        signs = self.ground.kit.signs
        for other, sign in signs.items():
            for on in self.ground.wearers:
                alike = signs[code].kind is not None and sign.kind == signs[code].kind
                same = (other, on) == (code, text.target)
                if same or not (other == code or alike) or not self._can_look(other, on, text.who):
                    continue
                guard = simplified(self.ground.condition(sign.when, on))
                yield Action(f"{other} of {on}", guard, (), duration(sign.takes))

    def _can_look(self, sign: str, on: str, who: str | None) -> bool:
        part = TENDER if who == TENDER else "self" if who == on else "partner"
        return part in self.ground.kit.signs[sign].by
