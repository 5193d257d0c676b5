"""Puzzles and protocols whose answers have long been known, written as our models.

Who may do what is in the guards, so that the number of states reached is the number printed.
Actions only ever write constants: what moves something by one is one action for each start.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import combinations, permutations, product

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
    mapped,
)

BANKS = ("near", "far")
SHORES = ((0, 1), (1, 0))


def is_(variable: int, *values: int) -> Among:
    """That a variable has one of some values."""
    return Among(variable, frozenset(values))


def counted(name: str, most: int, start: int = 0) -> Variable:
    """A variable that counts from 0."""
    return Variable(name, tuple(str(value) for value in range(most + 1)), start)


def unruled(model: Model) -> Model:
    """The same model without its rules, to be searched to the end."""
    return replace(model, rules=())


def once(condition: Condition, effects: tuple[tuple[int, int], ...]) -> Condition:
    """That a condition will hold when some effects have come about."""
    new = dict(effects)

    def leaf(among: Among) -> Condition:
        if among.variable not in new:
            return among
        return ALWAYS if new[among.variable] in among.values else NEVER

    return mapped(condition, leaf)


def farmer(ruled_by_company: bool = False) -> Model:
    """A farmer ferries a wolf, a goat and a cabbage; bad company is refused by the guards.

    Args:
        ruled_by_company: Whether the rule is that nothing is eaten, and not that all is over.
    """
    names = ("farmer", "wolf", "goat", "cabbage")
    eaten = AnyOf(
        tuple(
            All((is_(one, bank), is_(goat, bank), is_(0, 1 - bank)))
            for one, goat in ((1, 2), (3, 2))
            for bank in (0, 1)
        )
    )
    actions = []
    for (here, there), passenger in product(SHORES, range(4)):
        effects = tuple((who, there) for who in {0, passenger})
        aboard = tuple(is_(who, here) for who, _ in effects)
        name = f"{names[passenger]} to {BANKS[there]}"
        actions.append(Action(name, All((*aboard, Not(once(eaten, effects)))), effects))
    variables = tuple(Variable(name, BANKS) for name in names)
    rule = Rule("nothing is eaten", eaten) if ruled_by_company else all_over(4)
    return Model("farmer", variables, tuple(actions), (rule,))


def all_over(variables: int) -> Rule:
    """A rule that breaks when all have come to the far bank, to be asked for as a trace."""
    return Rule("all over", All(tuple(is_(who, 1) for who in range(variables))))


def missionaries(each: int = 3, seats: int = 2) -> Model:
    """Missionaries and cannibals: outnumbering is refused by the guards."""

    def allowed(near_missionaries: int, near_cannibals: int) -> bool:
        far_missionaries, far_cannibals = each - near_missionaries, each - near_cannibals
        return all(
            missionaries == 0 or missionaries >= cannibals
            for missionaries, cannibals in (
                (near_missionaries, near_cannibals),
                (far_missionaries, far_cannibals),
            )
        )

    everyone = range(each + 1)
    loads = [load for load in product(range(seats + 1), repeat=2) if 1 <= sum(load) <= seats]
    actions = []
    for (here, there), ms, cs, (m, c) in product(SHORES, everyone, everyone, loads):
        left = (ms - m, cs - c) if here == 0 else (ms + m, cs + c)
        if all(0 <= n <= each for n in left) and allowed(*left):
            guard = All((is_(0, ms), is_(1, cs), is_(2, here)))
            name = f"{m} and {c} to {BANKS[there]} from {ms} and {cs}"
            actions.append(Action(name, guard, ((0, left[0]), (1, left[1]), (2, there))))
    variables = (
        counted("missionaries", each, each),
        counted("cannibals", each, each),
        Variable("boat", BANKS),
    )
    over = Rule("all over", All((is_(0, 0), is_(1, 0), is_(2, 1))))
    return Model("missionaries and cannibals", variables, tuple(actions), (over,))


def jugs(small: int = 3, large: int = 5, wanted: int = 4) -> Model:
    """Two jugs, a tap and a drain; an action that would change nothing may not be done."""
    sizes = (small, large)
    actions = []
    for jug, size in enumerate(sizes):
        actions.append(Action(f"fill {size}", Not(is_(jug, size)), ((jug, size),)))
        actions.append(Action(f"empty {size}", Not(is_(jug, 0)), ((jug, 0),)))
    for source, target in SHORES:
        for held, there in product(range(1, sizes[source] + 1), range(sizes[target])):
            poured = min(held, sizes[target] - there)
            guard = All((is_(source, held), is_(target, there)))
            effects = ((source, held - poured), (target, there + poured))
            name = f"pour {held} of {sizes[source]} onto {there} of {sizes[target]}"
            actions.append(Action(name, guard, effects))
    variables = (counted("small", small), counted("large", large))
    measured = Rule("measured", is_(1, wanted))
    return Model("jugs", variables, tuple(actions), (measured,))


def neighbours(cell: int, side: int) -> Iterator[int]:
    """Cells beside a cell of a square."""
    row, column = divmod(cell, side)
    for down, right in ((-1, 0), (0, -1), (0, 1), (1, 0)):
        if 0 <= row + down < side and 0 <= column + right < side:
            yield (row + down) * side + column + right


def sliding_tiles(side: int = 3) -> Model:
    """The 8-puzzle: where the hole and each tile are; the hole starts in the last cell."""
    cells = tuple(f"c{cell}" for cell in range(side * side))
    hole = len(cells) - 1
    names = (*(f"tile{tile + 1}" for tile in range(hole)), "hole")
    variables = tuple(Variable(name, cells, start) for start, name in enumerate(names))
    actions = tuple(
        Action(
            f"{names[tile]} from {cells[beside]} to {cells[cell]}",
            All((is_(hole, cell), is_(tile, beside))),
            ((hole, beside), (tile, cell)),
        )
        for cell in range(len(cells))
        for beside in neighbours(cell, side)
        for tile in range(hole)
    )
    return Model("sliding tiles", variables, actions)


def hanoi(discs: int) -> Model:
    """Towers of Hanoi on three pegs; disc 0 is the smallest."""
    pegs = ("left", "middle", "right")
    actions = []
    for disc, (source, target) in product(range(discs), permutations(range(3), 2)):
        clear = tuple(is_(smaller, 3 - source - target) for smaller in range(disc))
        name = f"disc {disc} from {pegs[source]} to {pegs[target]}"
        actions.append(Action(name, All((is_(disc, source), *clear)), ((disc, target),)))
    variables = tuple(Variable(f"disc{disc}", pegs) for disc in range(discs))
    built = Rule("built", All(tuple(is_(disc, 2) for disc in range(discs))))
    return Model(f"hanoi {discs}", variables, tuple(actions), (built,))


def pancakes(count: int) -> Model:
    """A pile of pancakes of which the top ones are turned over together.

    An action writes constants, so that turning a top of any size is one action for each way in
    which these pancakes may lie: 320 actions for five, 13,692 for seven, 109,592 for eight.
    """
    sizes = tuple(f"size{size}" for size in range(count))
    actions = tuple(
        Action(
            f"turn {' '.join(map(str, top))}",
            All(tuple(is_(place, size) for place, size in enumerate(top))),
            tuple(enumerate(reversed(top))),
        )
        for turned in range(2, count + 1)
        for top in permutations(range(count), turned)
    )
    variables = tuple(Variable(f"place{n}", sizes, n) for n in range(count))
    return Model(f"pancakes {count}", variables, actions)


def philosophers(count: int, ruled: bool = True) -> Model:
    """Dining philosophers: each takes the left fork, then the right, then lays down both.

    A fork lies on the table exactly when neither neighbour has it, so that forks need no variable.
    """
    thinks, has_left, eats = range(3)
    actions: list[Action] = []
    for one in range(count):
        before, following = (one - 1) % count, (one + 1) % count
        left = All((is_(one, thinks), Not(is_(before, eats))))
        right = All((is_(one, has_left), is_(following, thinks)))
        actions += [
            Action(f"philosopher {one} takes left", left, ((one, has_left),)),
            Action(f"philosopher {one} takes right", right, ((one, eats),)),
            Action(f"philosopher {one} lays down", is_(one, eats), ((one, thinks),)),
        ]
    states = ("thinks", "has_left", "eats")
    variables = tuple(Variable(f"philosopher{one}", states) for one in range(count))
    stuck = Rule("nobody can go on", All(tuple(is_(one, has_left) for one in range(count))))
    return Model(f"philosophers {count}", variables, tuple(actions), (stuck,) if ruled else ())


def stuck(model: Model) -> Condition:
    """That no action may be done."""
    return Not(AnyOf(tuple(action.guard for action in model.actions)))


def bridge_and_torch(minutes: tuple[int, ...] = (1, 2, 5, 10)) -> Model:
    """At most two cross at a time, with the torch, as fast as the slower; a minute is 60 s."""
    torch = len(minutes)

    def crossing(walkers: Iterable[int], here: int, there: int) -> Action:
        group = (*walkers, torch)
        took = 60.0 * max(minutes[walker] for walker in group[:-1])
        guard = All(tuple(is_(one, here) for one in group))
        effects = tuple((one, there) for one in group)
        name = f"{' and '.join(str(minutes[w]) for w in group[:-1])} to {BANKS[there]}"
        return Action(name, guard, effects, Duration(took, took, took))

    actions = tuple(
        crossing(walkers, here, there)
        for here, there in SHORES
        for size in (1, 2)
        for walkers in combinations(range(torch), size)
    )
    names = (*(f"walker{pace}" for pace in minutes), "torch")
    variables = tuple(Variable(name, BANKS) for name in names)
    return Model("bridge and torch", variables, actions, (all_over(torch + 1),))
