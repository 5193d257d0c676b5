"""Puzzles and protocols with long-known answers, asked of the oracle and of the diagrams.

None of the sources was opened again for this: answers and counts are as remembered, or derived
here, and each row says which. A count that the model alone decides says "derived".
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "procedure"))

from known_problems import (
    bridge_and_torch,
    farmer,
    hanoi,
    jugs,
    missionaries,
    pancakes,
    philosophers,
    sliding_tiles,
    stuck,
    unruled,
)

from neckring.procedure import reference, symbolic
from neckring.procedure.backward import seconds_to
from neckring.procedure.diagrams import Diagrams
from neckring.procedure.findings import Proof, Verdict
from neckring.procedure.model import Model, after, holds

AREA = "searches"
CLASSIC = "classic puzzle of two jugs (from memory)"
FARMER = "Alcuin, Propositiones ad acuendos juvenes 18 (from memory)"
AMAREL = "Amarel 1968, Machine Intelligence 3, three missionaries (from memory)"
REINEFELD = "Reinefeld 1993, IJCAI, complete solution of the 8-puzzle (from memory)"
LUCAS = "Lucas 1883, towers of Hanoi, 2^n - 1 moves (from memory)"
A058986 = "OEIS A058986, pancake numbers (from memory)"
A002203 = "OEIS A002203, (1 + sqrt 2)^n + (1 - sqrt 2)^n (from memory)"
ROTE = "Rote 2002, Bulletin of the EATCS 78, crossing the bridge at night (from memory)"


@pytest.fixture
def exact(outside_check):
    """A whole number that must come out as it is."""

    def compare(name: str, source: str, kind: str, expected: int, obtained: float) -> None:
        outside_check(
            area=AREA,
            name=name,
            source=source,
            kind=kind,
            expected=expected,
            tolerance=0,
            obtained=obtained,
        )

    return compare


def engines(model: Model) -> Iterator[tuple[str, Proof]]:
    """What each engine says of a model without its rules, that is of all that can be reached."""
    bare = unruled(model)
    yield "plain search", reference.prove(bare)
    yield "diagrams", symbolic.prove(bare, layered=True)


def shortest_by_each(model: Model) -> Iterator[tuple[str, int]]:
    """How many actions each engine takes to where the one rule breaks."""
    (goal,) = model.rules
    trace = reference.shortest(model, goal.bad)
    assert trace is not None
    assert holds(goal.bad, reference.replay(model, trace)[-1])
    yield "plain search", len(trace)
    for way, layered in (("diagrams", True), ("diagrams backward", False)):
        proof = symbolic.prove(model, layered=layered)
        assert proof.broken is not None
        assert holds(goal.bad, reference.replay(model, proof.broken.trace)[-1])
        yield way, len(proof.broken.trace)


MEMORY, DERIVED = "from memory", "identity"
BOTH_WAYS = "derived: each crossing can be undone, ten crossings join the ten states"
TORCH = "derived: 2^5 placings less the two with the torch apart from everybody"
JUGS = "derived: 16 placings with a jug full or empty; 10+12 fill, 10+12 empty, 7+7 pour"
HOLE = "derived: the hole has 24 moves over 9 cells, each in 8!/2 placings of the tiles"
HALF = "derived: half of 9! placings, since a move keeps the parity (Johnson, Story 1879)"


@pytest.mark.parametrize(
    ("model", "states", "arcs", "kinds", "sources"),
    [
        (farmer(), 10, 20, (MEMORY, DERIVED), (FARMER, BOTH_WAYS)),
        (missionaries(), 16, 34, (MEMORY, MEMORY), (AMAREL, AMAREL)),
        (jugs(), 16, 58, (DERIVED, DERIVED), (JUGS, JUGS)),
    ],
    ids=lambda value: value.name if isinstance(value, Model) else "",
)
def test_states_and_arcs_of_small_puzzles(exact, model, states, arcs, kinds, sources):
    for engine, proof in engines(model):
        exact(f"{model.name}, {engine}: states", sources[0], kinds[0], states, proof.states)
        exact(f"{model.name}, {engine}: arcs", sources[1], kinds[1], arcs, proof.transitions)


@pytest.mark.parametrize(
    ("model", "moves", "source"),
    [(farmer(), 7, FARMER), (missionaries(), 11, AMAREL), (jugs(), 6, CLASSIC)],
    ids=lambda value: value.name if isinstance(value, Model) else "",
)
def test_fewest_moves_of_small_puzzles(exact, model, moves, source):
    for engine, obtained in shortest_by_each(model):
        exact(f"{model.name}, {engine}: fewest moves", source, MEMORY, moves, obtained)


def test_the_farmer_has_two_shortest_ways(exact):
    # Ways are counted from the start on, layer by layer: those to a state are those to all before.
    model = farmer()
    after_moves, ways = reference.distances(model), Counter({model.start: 1})
    for state in sorted(after_moves, key=after_moves.__getitem__):
        for number in reference.Possible(model)(state):
            then = after(model.actions[number], state)
            if after_moves[then] == after_moves[state] + 1:
                ways[then] += ways[state]
    exact("farmer, plain search: shortest ways", FARMER, MEMORY, 2, ways[1, 1, 1, 1])


def test_8_puzzle(exact):
    model = sliding_tiles()
    after_moves = reference.distances(model)
    farthest = Counter(after_moves.values())
    arcs = reference.prove(model).transitions
    exact("8-puzzle, plain search: states", HALF, DERIVED, 181_440, len(after_moves))
    exact("8-puzzle, plain search: arcs", HOLE, DERIVED, 483_840, arcs)
    proof = symbolic.prove(model)
    exact("8-puzzle, diagrams: states", HALF, DERIVED, 181_440, proof.states)
    exact("8-puzzle, diagrams: arcs", HOLE, DERIVED, 483_840, proof.transitions)
    exact("8-puzzle, plain search: most moves", REINEFELD, MEMORY, 31, max(farthest))
    exact("8-puzzle, plain search: states at most moves", REINEFELD, MEMORY, 2, farthest[31])


@pytest.mark.parametrize("discs", [3, 5, 8])
def test_towers_of_hanoi(exact, discs):
    # In all but three of the 3^n placings three discs can move, in those two.
    model, places = hanoi(discs), 3**discs
    for engine, proof in engines(model):
        name = f"towers of Hanoi, {discs} discs, {engine}"
        exact(f"{name}: states", "derived: 3^n placings", DERIVED, places, proof.states)
        arcs = 3 * places - 3
        exact(f"{name}: arcs", "derived: 3^(n+1) - 3", DERIVED, arcs, proof.transitions)
        exact(f"{name}: longest shortest way", LUCAS, MEMORY, 2**discs - 1, proof.depth)
    for engine, obtained in shortest_by_each(model):
        name = f"towers of Hanoi, {discs} discs, {engine}: moves"
        exact(name, LUCAS, MEMORY, 2**discs - 1, obtained)


@pytest.mark.parametrize(("count", "turns"), [(5, 5), (6, 7), (7, 8), (8, 9)])
def test_pancakes(exact, count, turns):
    # Turning a top of each size is one action for each order that it may have, too many for
    # diagrams beyond five; the plain search looks up the one that fits.
    proof = reference.prove(pancakes(count))
    piles = math.factorial(count)
    name = f"{count} pancakes, plain search"
    exact(f"{name}: states", "derived: n!", DERIVED, piles, proof.states)
    arcs = piles * (count - 1)
    exact(f"{name}: arcs", "derived: n! (n - 1)", DERIVED, arcs, proof.transitions)
    exact(f"{name}: most turns", A058986, MEMORY, turns, proof.depth)
    if count == 5:
        assert symbolic.prove(pancakes(count), layered=True) == proof


@pytest.mark.parametrize(
    ("count", "states"), [(3, 14), (4, 34), (5, 82), (6, 198), (8, 1154), (10, 6726)]
)
def test_dining_philosophers(exact, count, states):
    model = philosophers(count)
    for engine, proof in engines(model):
        name = f"{count} dining philosophers, {engine}: states"
        exact(name, f"{A002203}; that it counts them is derived", MEMORY, states, proof.states)
    diagrams = Diagrams(model)
    reached = diagrams.reached(diagrams.initial, model.actions)
    deadlocks = diagrams.count(reached & diagrams.encode(stuck(model)))
    name = f"{count} dining philosophers, diagrams: deadlocks"
    exact(name, "derived: all hold the left fork", DERIVED, 1, deadlocks)
    for engine, obtained in shortest_by_each(model):
        name = f"{count} dining philosophers, {engine}: actions to the deadlock"
        exact(name, "derived: each takes the left fork once", DERIVED, count, obtained)


def test_very_many_philosophers(exact):
    # No search that keeps states one by one could: 8e22 of them.
    before, states = 2, 2
    for _ in range(59):
        before, states = states, 2 * states + before
    model = philosophers(60, ruled=False)
    proof = symbolic.prove(model)
    assert proof.verdict is Verdict.PROVED
    source = f"{A002203}, by its recurrence; that it counts them is derived"
    # The table holds floating point, too short for it: the difference is what must be nothing.
    name = "60 dining philosophers, diagrams: states less (1 + sqrt 2)^60 + (1 - sqrt 2)^60"
    exact(name, source, MEMORY, 0, proof.states - states)


def test_bridge_and_torch(exact):
    model = bridge_and_torch()
    (over,) = model.rules
    for engine, proof in engines(model):
        exact(f"bridge and torch, {engine}: states", TORCH, DERIVED, 30, proof.states)
    timed = reference.quickest(model, over.bad)
    assert timed is not None
    exact("bridge at night 1, 2, 5, 10: Dijkstra, minutes", ROTE, MEMORY, 17, timed[0] / 60.0)

    diagrams = Diagrams(model)
    goal = diagrams.encode(over.bad)
    growing = seconds_to(diagrams, goal, model.actions, diagrams.valid, reference.at_most)
    seconds = next(s for s, states in growing if diagrams.has(states, model.start))
    name = "bridge at night 1, 2, 5, 10: sets by the second, minutes"
    exact(name, ROTE, MEMORY, 17, seconds / 60.0)
