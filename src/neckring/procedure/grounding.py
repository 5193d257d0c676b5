"""From what people write of a kit and a procedure to one exact model.

A kit is written about one wearer. Here each thing gets its owner, each move everybody who can do
it and everybody it can be done to, and each condition the things of those it then speaks of.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from neckring.procedure.model import (
    ALWAYS,
    NEVER,
    Action,
    All,
    Among,
    AnyOf,
    Condition,
    Duration,
    Model,
    Not,
    Rule,
    Variable,
)
from neckring.procedure.steps import TimedRule
from neckring.station.conditions import ConditionText, Denied, Is, Joined, Named, Phrase, prefix_of
from neckring.station.kit import Breakdown, Kit, Move
from neckring.station.lasting import Lasting

WEARERS = ("A", "B")
TENDER = "tender"


@dataclass(frozen=True)
class Doing:
    """A move done by somebody to somebody.

    Attributes:
        move: Its code.
        on: The wearer it is done to.
        by: Who does it.
    """

    move: str
    on: str
    by: str

    @property
    def name(self) -> str:
        """Unique in its model."""
        return f"{self.move} on {self.on} by {self.by}"


@dataclass(frozen=True)
class GroundKit:
    """A kit on its wearers: the words of the kit made conditions on variables.

    Attributes:
        kit: As written.
        wearers: Who is dressed.
        variables: Every thing of every wearer, then what all share.
    """

    kit: Kit
    wearers: tuple[str, ...]
    variables: tuple[Variable, ...]

    @cached_property
    def numbers(self) -> dict[str, int]:
        """Number of each variable by its name."""
        return {variable.name: number for number, variable in enumerate(self.variables)}

    def condition(self, text: ConditionText, on: str = "") -> Condition:
        """A condition as written, about one wearer.

        Args:
            text: As written.
            on: The wearer whom names without a prefix mean; "" where every name has its own.
        """
        return self._ground(text.phrase, on)

    def _ground(self, phrase: Phrase, on: str) -> Condition:
        match phrase:
            case Named(name):
                whose, own = prefix_of(name.text)
                owner = self._owner(whose, on)
                return NEVER if owner is None else self._ground(self.meaning(own).phrase, owner)
            case Is(thing, states, denied):
                said = self._statement(thing.text, tuple(s.text for s in states), on)
                return Not(said) if denied else said
            case Denied(part):
                return Not(self._ground(part, on))
            case Joined(word, parts):
                grounded = tuple(self._ground(part, on) for part in parts)
                return All(grounded) if word == "and" else AnyOf(grounded)

    def meaning(self, name: str) -> ConditionText:
        """The condition that a name stands for."""
        return self.kit.conditions[name]

    def _statement(self, written: str, states: tuple[str, ...], on: str) -> Condition:
        whose, thing = prefix_of(written)
        if self.kit.things[thing].of == "all":
            name = thing
        else:
            owner = self._owner(whose, on)
            if owner is None:
                return NEVER
            name = f"{owner}.{thing}"
        number = self.numbers[name]
        known = self.variables[number].states
        return Among(number, frozenset(known.index(state) for state in states))

    def _owner(self, whose: str, on: str) -> str | None:
        """Who is meant by a prefix; None for the partner of somebody who has none."""
        if whose == "":
            return on
        if whose == "partner":
            return next((wearer for wearer in self.wearers if wearer != on), None)
        return whose

    def effects(self, changes: Mapping[str, str], on: str) -> tuple[tuple[int, int], ...]:
        """Variables and values of changes as written."""
        found = []
        for thing, state in changes.items():
            name = thing if self.kit.things[thing].of == "all" else f"{on}.{thing}"
            number = self.numbers[name]
            found.append((number, self.variables[number].states.index(state)))
        return tuple(found)

    def needs(self, doing: Doing) -> Condition:
        """What must physically hold for a move."""
        move = self.kit.moves[doing.move]
        parts = [self.condition(move.needs, doing.on)]
        if doing.by != TENDER:
            parts.append(self.condition(move.actor_needs, doing.by))
        return simplified(All(tuple(parts)))

    def discipline(self, doing: Doing) -> Condition:
        """What the team keeps to before a move."""
        return simplified(self.condition(self.kit.moves[doing.move].only_if, doing.on))

    def doings(self) -> Iterator[Doing]:
        """Every move by everybody who can, to everybody."""
        for code, move in self.kit.moves.items():
            for on in self.wearers:
                for by in self.doers(move, on):
                    yield Doing(code, on, by)

    def doers(self, move: Move, on: str) -> tuple[str, ...]:
        """Who can do a move to a wearer."""
        partners = tuple(wearer for wearer in self.wearers if wearer != on)
        people = {"self": (on,), "partner": partners, "tender": (TENDER,)}
        return tuple(person for part in move.by for person in people[part])

    def action(self, doing: Doing, disciplined: bool) -> Action:
        """A move as an action of the model."""
        move = self.kit.moves[doing.move]
        needs = self.needs(doing)
        guard = All((needs, self.discipline(doing))) if disciplined else needs
        effects = self.effects(move.changes, doing.on)
        return Action(doing.name, simplified(guard), effects, duration(move.takes))

    def halves(self) -> Iterator[Action]:
        """Every move that can be half done, half done."""
        for doing in self.doings():
            half = self.kit.moves[doing.move].half
            if half is not None:
                effects = self.effects(half, doing.on)
                yield Action(f"{doing.name}, half done", self.needs(doing), effects)

    def breakdowns(self) -> Iterator[Action]:
        """Everything the kit may do by itself, to each wearer."""
        for code, breakdown in self.kit.breakdowns.items():
            for on in self.wearers:
                yield self.breakdown(code, breakdown, on)

    def breakdown(self, code: str, breakdown: Breakdown, on: str) -> Action:
        """What the kit may do by itself to a wearer."""
        guard = simplified(self.condition(breakdown.needs, on))
        return Action(f"{code} of {on}", guard, self.effects(breakdown.changes, on))

    def rules(self) -> tuple[Rule, ...]:
        """What must never hold, of each wearer; the rules without a time."""
        return tuple(
            Rule(f"{code} of {on}", simplified(self.condition(rule.never, on)))
            for code, rule in self.kit.rules.items()
            if rule.longer_than is None
            for on in self.wearers
        )

    def timed(self, clocks: Mapping[str, float]) -> tuple[TimedRule, ...]:
        """Rules with a time, of each wearer.

        Args:
            clocks: Harm clocks [s] by the code of the failure, where a plan has computed them.
        """
        return tuple(
            TimedRule(
                f"{code} of {on}",
                simplified(self.condition(rule.never, on)),
                min(rule.longer_than.nominal, clocks.get(rule.clock or "", rule.longer_than.high)),
            )
            for code, rule in self.kit.rules.items()
            if rule.longer_than is not None
            for on in self.wearers
        )

    def model(self, disciplined: bool) -> Model:
        """Every move that anybody may do, under the rules without a time.

        Args:
            disciplined: Whether everybody keeps to what the team keeps to.
        """
        return self._disciplined if disciplined else self._free

    @cached_property
    def _disciplined(self) -> Model:
        actions = tuple(self.action(doing, True) for doing in self.doings())
        return Model(self.kit.code, self.variables, actions, self.rules())

    @cached_property
    def _free(self) -> Model:
        actions = tuple(self.action(doing, False) for doing in self.doings())
        return Model(self.kit.code, self.variables, actions, self.rules())


_GROUND: list[GroundKit] = []
MOST_GROUND = 16


def ground(kit: Kit, wearers: int = 1) -> GroundKit:
    """Take a kit for one wearer or two; the same again for the very same kit.

    While a procedure is written its kit mostly stays as it is, and is not worked out anew.

    Args:
        kit: As written.
        wearers: How many are dressed.
    """
    for known in _GROUND:
        if known.kit is kit and len(known.wearers) == wearers:
            return known
    _GROUND.append(_grounded(kit, wearers))
    del _GROUND[:-MOST_GROUND]
    return _GROUND[-1]


def _grounded(kit: Kit, wearers: int) -> GroundKit:
    people = WEARERS[:wearers]
    own = [
        Variable(f"{person}.{name}", thing.states, thing.states.index(thing.starts))
        for person in people
        for name, thing in kit.things.items()
        if thing.of == "wearer"
    ]
    shared = [
        Variable(name, thing.states, thing.states.index(thing.starts))
        for name, thing in kit.things.items()
        if thing.of == "all"
    ]
    return GroundKit(kit, people, (*own, *shared))


def duration(takes: Lasting) -> Duration:
    """How long an act takes."""
    return Duration(takes.low, takes.likely, takes.high)


def simplified(condition: Condition) -> Condition:
    """The same condition without what decides nothing."""
    match condition:
        case Not(part):
            inner = simplified(part)
            if inner in (ALWAYS, NEVER):
                return NEVER if inner == ALWAYS else ALWAYS
            return inner.part if isinstance(inner, Not) else Not(inner)
        case All(parts):
            found = [simplified(part) for part in parts]
            if NEVER in found:
                return NEVER
            kept = tuple(dict.fromkeys(_flat(found, All)))
            return kept[0] if len(kept) == 1 else All(kept)
        case AnyOf(parts):
            found = [simplified(part) for part in parts]
            if ALWAYS in found:
                return ALWAYS
            kept = tuple(dict.fromkeys(_flat(found, AnyOf)))
            return kept[0] if len(kept) == 1 else AnyOf(kept)
        case _:
            return condition


def _flat(parts: list[Condition], sort: type[All] | type[AnyOf]) -> Iterator[Condition]:
    for part in parts:
        if isinstance(part, sort):
            yield from part.parts
        else:
            yield part
