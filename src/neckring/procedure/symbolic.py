"""Proof by decision diagrams: all states at once, and the shortest trace where a rule breaks."""

from __future__ import annotations

from functools import reduce
from operator import or_

from neckring.procedure.diagrams import Diagrams, Move, StateSet, led_into, led_to
from neckring.procedure.findings import Bounds, Break, Proof, Verdict
from neckring.procedure.model import Model, State, after, holds


class BoundHitError(RuntimeError):
    """A search was given up; its message says at which bound."""


def prove(
    model: Model,
    bounds: Bounds = Bounds(),  # noqa: B008 (a frozen value)
    layered: bool = False,
    library: str = "",
    counted: bool = True,
) -> Proof:
    """Prove that no rule can break, or find the shortest trace by which one does.

    Args:
        model: What may happen and what must not.
        bounds: After how many nodes and layers to give up. Nodes are counted between rounds, so
            that more may be in use for a while.
        layered: Whether to go layer by layer, which takes longer and gives every figure that the
            oracle gives. Without it there is no depth when proved; and when a rule breaks, the
            states are those reached until this was noticed, and transitions are not counted. The
            verdict, the rule and the trace are the same.
        library: As for `Diagrams`.
        counted: Whether transitions are counted too; not layer by layer they need not be.
    """
    diagrams = Diagrams(model, library)
    if layered:
        return layered_proof(diagrams, bounds)
    return chained_proof(diagrams, bounds, counted)


def chained_proof(diagrams: Diagrams, bounds: Bounds, counted: bool = True) -> Proof:
    """Reach all states in few rounds; only when a rule breaks, look for the trace."""
    bad, reached = all_bad(diagrams), diagrams.initial
    for reached in diagrams.reaching(diagrams.initial, diagrams.model.actions):
        if reached & bad != diagrams.empty:
            return broken_proof(diagrams, reached, bounds)
        if bound := nodes_bound(diagrams, bounds):
            return undecided(diagrams, reached, None, bound)
    states = diagrams.count(reached)
    arcs = transitions(diagrams, reached) if counted else None
    return Proof(Verdict.PROVED, states, arcs, None)


def broken_proof(diagrams: Diagrams, reached: StateSet, bounds: Bounds) -> Proof:
    """Answer when it is known that some rule breaks, and not yet how."""
    try:
        broken = shortest_break(diagrams, reached, bounds)
    except BoundHitError as hit:
        return undecided(diagrams, reached, None, f"{hit}; a rule breaks, in what way is not known")
    states, depth = diagrams.count(reached), len(broken.trace)
    return Proof(Verdict.BROKEN, states, None, depth, broken)


def layered_proof(diagrams: Diagrams, bounds: Bounds) -> Proof:
    """Search breadth first, as the oracle does."""
    moves = diagrams.moves(diagrams.model.actions)
    # Each set holds the layers before it too: such sets are smaller, and most of what is done with
    # one was done with the one before and is remembered by the library.
    within = [diagrams.initial]
    while (rule := first_broken(diagrams, within[-1])) is None:
        wider = within[-1] | led_to(diagrams, within[-1], moves)
        if wider == within[-1]:
            return layered_answer(diagrams, within, None)
        if bound := nodes_bound(diagrams, bounds) or layers_bound(len(within), bounds):
            return undecided(diagrams, within[-1], len(within) - 1, bound)
        within.append(wider)
    return layered_answer(diagrams, within, Break(rule, first_trace(diagrams, within, rule)))


def layered_answer(diagrams: Diagrams, within: list[StateSet], broken: Break | None) -> Proof:
    """What a search in layers says at its end."""
    verdict = Verdict.PROVED if broken is None else Verdict.BROKEN
    states, enabled = diagrams.count(within[-1]), transitions(diagrams, within[-1])
    return Proof(verdict, states, enabled, len(within) - 1, broken)


def undecided(diagrams: Diagrams, reached: StateSet, depth: int | None, bound: str) -> Proof:
    """That a bound was hit."""
    return Proof(Verdict.NOT_DECIDED, diagrams.count(reached), None, depth, None, bound)


def nodes_bound(diagrams: Diagrams, bounds: Bounds) -> str:
    """Whether there are too many nodes, in words."""
    return f"more than {bounds.states} nodes" if diagrams.nodes() > bounds.states else ""


def layers_bound(layer: int, bounds: Bounds) -> str:
    """Whether a layer is one too many, in words."""
    return f"more than {bounds.layers} layers" if layer > bounds.layers else ""


def bad_of(diagrams: Diagrams, rule: int) -> StateSet:
    """Where a rule breaks."""
    return diagrams.encode(diagrams.model.rules[rule].bad)


def all_bad(diagrams: Diagrams) -> StateSet:
    """Where any rule breaks."""
    rules = range(len(diagrams.model.rules))
    return reduce(or_, (bad_of(diagrams, rule) for rule in rules), diagrams.empty)


def first_broken(diagrams: Diagrams, states: StateSet) -> int | None:
    """Number of the first rule that breaks in some states."""
    for rule in range(len(diagrams.model.rules)):
        if states & bad_of(diagrams, rule) != diagrams.empty:
            return rule
    return None


def transitions(diagrams: Diagrams, states: StateSet) -> int:
    """Actions that may be done, over all of some states."""
    actions = diagrams.model.actions
    return sum(diagrams.count(states & diagrams.move(action).guard) for action in actions)


def shortest_break(diagrams: Diagrams, reached: StateSet, bounds: Bounds) -> Break:
    """The first rule that breaks after the fewest actions, when it is known that some rule does.

    Forward from the start and back from all that is bad until the two meet, which says how many
    actions it takes; then on from there, only through states that lie on a shortest way.

    Args:
        diagrams: The model.
        reached: Some states that can be reached, one in which a rule breaks among them.
        bounds: When to give up.

    Raises:
        BoundHitError: when a bound is hit before.
    """
    moves = diagrams.moves(diagrams.model.actions)
    within, nearer = met(diagrams, every_reached(diagrams, reached, bounds), moves, bounds)
    within[-1] &= nearer[-1]
    for closer in reversed(nearer[:-1]):
        within.append(led_to(diagrams, within[-1], moves) & closer)
    rule = first_broken(diagrams, within[-1])
    if rule is None:
        raise ValueError("no rule breaks where one was known to break")
    return Break(rule, first_trace(diagrams, within, rule))


def every_reached(diagrams: Diagrams, reached: StateSet, bounds: Bounds) -> StateSet:
    """All states that can be reached, from some that can; the ways back are then small sets.

    Raises:
        BoundHitError: when a bound is hit before.
    """
    for wider in diagrams.reaching(reached, diagrams.model.actions):
        if bound := nodes_bound(diagrams, bounds):
            raise BoundHitError(bound)
        reached = wider
    return reached


def met(
    diagrams: Diagrams, reached: StateSet, moves: list[Move], bounds: Bounds
) -> tuple[list[StateSet], list[StateSet]]:
    """Sets that grow from the start and from all that is bad, until one of each has a state.

    The side whose set is the smaller diagram goes on, for that is the quicker one.

    Returns:
        States after at most 0, 1, 2 ... actions; and states from which some rule breaks after at
        most 0, 1, 2 ... actions. The last of both have some in common, those before have not.

    Raises:
        BoundHitError: when a bound is hit before.
    """
    after, before = [diagrams.initial], [all_bad(diagrams) & reached]
    while after[-1] & before[-1] == diagrams.empty:
        layers = len(after) + len(before) - 1
        if bound := nodes_bound(diagrams, bounds) or layers_bound(layers, bounds):
            raise BoundHitError(bound)
        if after[-1].dag_size <= before[-1].dag_size:
            after.append(after[-1] | led_to(diagrams, after[-1], moves))
        else:
            before.append(before[-1] | led_into(diagrams, before[-1], moves) & reached)
    return after, before


def first_trace(diagrams: Diagrams, within: list[StateSet], rule: int) -> tuple[int, ...]:
    """The shortest trace to where a rule breaks, and of several the one whose actions come first.

    Args:
        diagrams: The model.
        within: Sets with every state of the shortest traces, after 0, 1, 2 ... actions; only in the
            last does the rule break.
        rule: Its number.
    """
    moves = diagrams.moves(diagrams.model.actions)
    ahead = [bad_of(diagrams, rule) & within[-1]]
    for reached in reversed(within[:-1]):
        ahead.append(reached & led_into(diagrams, ahead[-1], moves))
    state, trace = diagrams.model.start, []
    for target in reversed(ahead[:-1]):
        number, state = first_step(diagrams, state, target)
        trace.append(number)
    return tuple(trace)


def first_step(diagrams: Diagrams, state: State, target: StateSet) -> tuple[int, State]:
    """The first action that leads from a state into some states.

    Raises:
        ValueError: when none does.
    """
    for number, action in enumerate(diagrams.model.actions):
        if holds(action.guard, state):
            then = after(action, state)
            if diagrams.has(target, then):
                return number, then
    raise ValueError(f"no action leads from {state} into the states wanted")
