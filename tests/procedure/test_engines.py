"""Every engine against the oracle, and the oracle against the certificate, on random models."""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))

from known_problems import bridge_and_torch, farmer, hanoi, is_, philosophers, unruled
from random_models import built, models, random_model

from neckring.procedure import certificate, diagrams, reference, symbolic, variable_order
from neckring.procedure.backward import seconds_to, steps_to
from neckring.procedure.diagrams import Diagrams
from neckring.procedure.findings import Bounds, Break, Verdict
from neckring.procedure.model import (
    ALWAYS,
    NEVER,
    Action,
    All,
    Among,
    Model,
    Not,
    Rule,
    Variable,
    after,
    holds,
)

LIBRARIES = ("cudd", "autoref")
each_library = pytest.mark.parametrize("library", LIBRARIES)


def all_states(model: Model):
    return product(*(range(len(variable.states)) for variable in model.variables))


@each_library
@given(model=models())
def test_layered_diagrams_say_all_that_the_oracle_says(model, library):
    # given any model / when both prove it layer by layer / then every figure and trace is equal
    assert symbolic.prove(model, layered=True, library=library) == reference.prove(model)


@each_library
@given(model=models())
def test_chained_diagrams_give_the_same_verdict_rule_and_trace(model, library):
    # given any model / when the diagrams take the fast way
    fast, oracle = symbolic.prove(model, library=library), reference.prove(model)

    # then they conclude the same, and count the same when all states are reached
    assert fast.verdict is oracle.verdict
    assert fast.broken == oracle.broken
    if oracle.broken is None:
        assert (fast.states, fast.transitions) == (oracle.states, oracle.transitions)
    else:
        assert fast.depth == oracle.depth


@given(model=models())
def test_a_trace_replays_to_where_its_rule_first_breaks(model):
    # given a model that breaks / when its trace is replayed
    proof = reference.prove(model)
    assume(proof.broken is not None)
    states = reference.replay(model, proof.broken.trace)

    # then the rule breaks at its end, and no rule before
    assert holds(model.rules[proof.broken.rule].bad, states[-1])
    assert not any(holds(rule.bad, state) for rule in model.rules for state in states[:-1])
    assert len(states) == proof.depth + 1


@given(model=models())
def test_what_a_search_reached_is_a_certificate(model):
    # given all states reached / when no rule is asked for, or only rules that hold
    reached = set(reference.distances(model))
    kept = tuple(r for r in model.rules if not any(holds(r.bad, state) for state in reached))

    # then the set is a proof, whichever engine made it
    sound = replace(model, rules=kept)
    assert certificate.faults(sound, reached) == []
    assert reference.prove(sound).verdict is Verdict.PROVED
    d = Diagrams(sound)
    assert set(d.states(d.reached(d.initial, sound.actions))) == reached


@given(model=models(), chosen=st.integers(0, 10**6))
def test_a_certificate_with_any_state_missing_is_refused(model, chosen):
    # given all states reached / when one of them is taken out
    reached = reference.distances(model)
    missing = sorted(reached)[chosen % len(reached)]
    mutilated = set(reached) - {missing}

    # then the set does not hold the start, or an action leads out of it
    found = certificate.faults(unruled(model), mutilated)
    assert found
    assert all(str(missing) in fault or "out of the set" in fault for fault in found)


@given(model=models())
def test_a_certificate_in_which_a_rule_breaks_is_refused(model):
    # given a model that breaks / when all that can be reached is shown as a proof
    proof = reference.prove(model)
    assume(proof.broken is not None)

    # then the rule is named
    name = model.rules[proof.broken.rule].name
    found = certificate.faults(model, set(reference.distances(model)), most=10**6)
    assert any(f"rule {name!r} breaks" in fault for fault in found)


@pytest.mark.parametrize("wrong", [(0, 0, 0), (0, 0, 0, 2), (0, -1, 0, 0), (0, 0, 0, 0, 0)])
def test_a_certificate_with_something_that_is_no_state_is_refused(wrong):
    reached = set(reference.distances(farmer()))
    assert certificate.faults(unruled(farmer()), reached) == []
    assert certificate.faults(unruled(farmer()), reached | {wrong}) == [
        f"{wrong} is no state of the model"
    ]


@given(model=models(), most=st.integers(1, 40))
def test_a_bound_on_states_is_never_a_proof(model, most):
    # given a model with more states than may be kept / when it is searched
    bounded = reference.prove(unruled(model), Bounds(states=most))
    states = len(reference.distances(model))

    # then nothing is decided, and the words say why
    if states > most:
        assert bounded.verdict is Verdict.NOT_DECIDED
        assert bounded.bound == f"more than {most} states"
        assert bounded.states == most
        with pytest.raises(reference.BoundHitError, match=f"more than {most} states"):
            reference.distances(model, Bounds(states=most))
    else:
        assert bounded == reference.prove(unruled(model))


@pytest.mark.parametrize("engine", ["reference", *LIBRARIES])
@given(model=models(), most=st.integers(0, 6))
def test_a_bound_on_layers_is_never_a_proof(engine, model, most):
    # given a bound on layers / when an engine searches within it
    bounds, free = Bounds(layers=most), reference.prove(model)
    if engine == "reference":
        bounded = reference.prove(model, bounds)
    else:
        bounded = symbolic.prove(model, bounds, layered=True, library=engine)

    # then it decides when the bound is not hit, and otherwise says that it did not
    if free.depth <= most:
        assert bounded == free
    else:
        assert bounded.verdict is Verdict.NOT_DECIDED
        assert bounded.broken is None
        assert bounded.bound == f"more than {most} layers"
        assert bounded.depth == most


@each_library
@pytest.mark.parametrize("layered", [False, True])
def test_a_bound_on_nodes_is_never_a_proof(library, layered):
    # given room for only a few nodes / when a model that needs more is proved
    few = Bounds(states=20)
    sound, broken = philosophers(8, ruled=False), philosophers(8)
    for model in (sound, broken):
        proof = symbolic.prove(model, few, layered, library)

        # then nothing is decided
        assert proof.verdict is Verdict.NOT_DECIDED
        assert proof.broken is None
        assert proof.bound.startswith("more than 20 nodes")


@each_library
def test_a_break_that_is_certain_but_not_found_is_not_decided_and_says_so(library):
    # given a rule that breaks after 10 actions / when only 3 layers may be searched for the trace
    proof = symbolic.prove(philosophers(10), Bounds(layers=3), library=library)

    # then that it breaks is said, though no trace is
    assert proof.verdict is Verdict.NOT_DECIDED
    assert proof.bound == "more than 3 layers; a rule breaks, in what way is not known"


def test_of_rules_that_break_together_the_first_is_named_and_of_traces_the_first():
    # given two switches, either of which breaks a rule, and both orders of turning them on
    variables = tuple(Variable(name, ("off", "on")) for name in ("left", "right", "lamp"))
    actions = (
        Action("right", ALWAYS, ((1, 1),)),
        Action("left", ALWAYS, ((0, 1),)),
        Action("lamp", ALWAYS, ((2, 1),)),
    )
    both = All((is_(0, 1), is_(1, 1)))
    lit = All((is_(0, 1), is_(2, 1)))
    model = Model("switches", variables, actions, (Rule("lit", lit), Rule("both", both)))

    # when each engine proves it / then all name "lit", by the trace whose actions come first
    for proof in (
        reference.prove(model),
        *(symbolic.prove(model, layered=deep, library=lib) for deep in (0, 1) for lib in LIBRARIES),
    ):
        assert proof.broken == Break(0, (1, 2))


@each_library
def test_a_start_that_breaks_a_rule_has_an_empty_trace(library):
    model = replace(farmer(), rules=(Rule("never", NEVER), Rule("at once", ALWAYS)))
    expected = Break(1, ())
    assert reference.prove(model).broken == expected
    assert symbolic.prove(model, library=library).broken == expected
    assert symbolic.prove(model, layered=True, library=library).broken == expected


# Sets of states


@each_library
@given(model=models(), data=st.data())
def test_a_diagram_holds_exactly_the_states_of_its_condition(model, library, data):
    # given a guard or a rule of a model, or that it does not hold / when it is made a diagram
    d = Diagrams(model, library)
    conditions = [*(a.guard for a in model.actions), *(rule.bad for rule in model.rules), NEVER]
    condition = data.draw(st.sampled_from([*conditions, *map(Not, conditions)]))
    encoded = d.encode(condition)

    # then its states are those in which the condition holds, each once
    held = {state for state in all_states(model) if holds(condition, state)}
    listed = list(d.states(encoded))
    assert len(listed) == len(held) == d.count(encoded)
    assert set(listed) == held
    if held:
        assert d.pick(encoded) in held
        assert d.has(encoded, d.pick(encoded))


@each_library
@given(model=models(), data=st.data())
def test_images_and_preimages_are_those_of_single_states(model, library, data):
    # given some states and an action
    d = Diagrams(model, library)
    every = list(all_states(model))
    some = set(data.draw(st.lists(st.sampled_from(every), max_size=6)))
    states = d.empty
    for state in some:
        states = states | d.one(state)
    for action in model.actions:
        # when the action is done, or undone / then each state goes where the model says
        image = {after(action, state) for state in some if holds(action.guard, state)}
        before = {s for s in every if holds(action.guard, s) and after(action, s) in some}
        assert set(d.states(d.image(states, action))) == image
        assert set(d.states(d.preimage(states, action))) == before


@each_library
def test_nothing_can_be_picked_from_an_empty_set(library):
    d = Diagrams(farmer(), library)
    assert list(d.states(d.empty)) == []
    assert d.count(d.empty) == 0
    with pytest.raises(ValueError, match="empty set"):
        d.pick(d.empty)


@each_library
def test_values_that_a_variable_does_not_have_are_never_held(library):
    # given a variable with three values in two bits / when more values are asked for
    model = Model("three", (Variable("thing", ("a", "b", "c")),), ())
    d = Diagrams(model, library)

    # then they are none of its states
    assert d.encode(Among(0, frozenset((3, 4, 7)))) == d.empty
    assert d.count(d.encode(Not(NEVER))) == 3
    assert d.count(d.encode(Among(0, frozenset((2, 3))))) == 1


@each_library
@given(model=models())
def test_counting_by_whole_numbers_is_counting(model, library):
    d = Diagrams(model, library)
    bits = sum((len(variable.states) - 1).bit_length() for variable in model.variables)
    for action in model.actions:
        states = d.encode(action.guard)
        assert diagrams.counted_exactly(states, bits) == d.count(states)


@pytest.mark.parametrize(("library", "count"), [("autoref", 30), ("cudd", 30), ("cudd", 60)])
def test_more_bits_than_floating_point_holds_are_counted_exactly(library, count):
    # given philosophers in 2 bits each, whose states are counted by a recurrence in whole numbers
    before, states = 2, 2
    for _ in range(count - 1):
        before, states = states, 2 * states + before
    assert count < 60 or states > 2**53

    # when all are reached / then not one is lost to rounding
    d = Diagrams(philosophers(count), library)
    assert d.count(d.reached(d.initial, d.model.actions)) == states


def test_the_plain_library_is_taken_where_the_compiled_one_is_missing(monkeypatch):
    # given a machine without the compiled library
    def absent(name: str):
        if name == "dd.cudd":
            raise ImportError(name)
        return whole(name)

    whole = diagrams.import_module
    monkeypatch.setattr(diagrams, "import_module", absent)

    # when a model is proved / then it is, by the plain one
    assert diagrams.library_named("").__name__ == "dd.autoref"
    assert symbolic.prove(unruled(farmer())).states == 10
    with pytest.raises(ImportError):
        symbolic.prove(farmer(), library="cudd")


@given(model=models())
def test_an_order_has_every_variable_once_and_is_no_worse_than_the_one_written(model):
    order = variable_order.good_order(model)
    ties = variable_order.ties_of(model)
    assert sorted(order) == list(range(len(model.variables)))
    written = variable_order.total_span(sorted(order), ties)
    assert variable_order.total_span(order, ties) <= written
    assert order == variable_order.good_order(model)


def test_variables_that_meet_are_put_together():
    # given pairs of variables written far apart, each with a rule of its own
    pairs = 6
    variables = tuple(Variable(f"thing{n}", ("off", "on")) for n in range(2 * pairs))
    rules = tuple(Rule(f"pair {n}", All((is_(n, 1), is_(n + pairs, 1)))) for n in range(pairs))
    model = Model("pairs", variables, (), rules)

    # when an order is looked for / then most pairs stand nearly side by side
    span = variable_order.total_span(
        variable_order.good_order(model), variable_order.ties_of(model)
    )
    assert span <= 2 * pairs < pairs * pairs


# Ways back


def least_back(model: Model, goal: set, allowed: set, cost) -> dict:
    """Least cost from each state to a goal, worked out for single states by relaxing to the end."""
    best = dict.fromkeys(goal & allowed, 0)
    changed = True
    while changed:
        changed = False
        for state in allowed:
            for action in model.actions:
                if holds(action.guard, state) and (then := after(action, state)) in best:
                    candidate = best[then] + cost(action)
                    if candidate < best.get(state, math.inf):
                        best[state], changed = candidate, True
    return best


@each_library
@pytest.mark.parametrize("seed", range(15))
def test_steps_to_a_goal_are_least_and_exact(seed, library):
    # given a random model, a goal, and states that the way may not leave
    model = random_model(seed)
    d = Diagrams(model, library)
    allowed, goal = model.actions[0].guard, model.rules[0].bad
    layers = steps_to(d, d.encode(goal), model.actions, d.encode(allowed))

    # when each state's least number of actions is worked out on its own / then it is its layer's
    states = {state for state in all_states(model) if holds(allowed, state)}
    best = least_back(model, {s for s in states if holds(goal, s)}, states, lambda action: 1)
    found = {state: n for n, layer in enumerate(layers) for state in d.states(layer)}
    assert found == best
    assert sum(d.count(layer) for layer in layers) == len(best)


@each_library
@pytest.mark.parametrize("free", [False, True], ids=["all take time", "some take none"])
@pytest.mark.parametrize("seed", range(15))
def test_seconds_to_a_goal_are_least_and_exact(seed, free, library):
    # given a random model whose actions take some seconds, half of them perhaps none
    model = random_model(seed)
    d = Diagrams(model, library)
    goal = model.rules[0].bad

    def seconds_of(action: Action) -> float:
        return 0.0 if free and int(action.duration.low) % 2 else action.duration.high

    found = seconds_to(d, d.encode(goal), model.actions, d.valid, seconds_of)

    # when each state's least time is worked out on its own / then it is when it joins the set
    states = set(all_states(model))
    wanted = {state for state in states if holds(goal, state)}
    best = least_back(model, wanted, states, lambda action: math.ceil(seconds_of(action)))
    joined: dict = {}
    for seconds, growing in found:
        for state in d.states(growing):
            joined.setdefault(state, seconds)
    assert joined == best

    # and the sets grow, each time by something
    sizes = [d.count(growing) for _, growing in found]
    assert sizes == sorted(set(sizes))
    assert [seconds for seconds, _ in found] == sorted({seconds for seconds, _ in found})


@pytest.mark.parametrize("seconds", [-1.0, math.inf, math.nan])
def test_an_action_that_takes_less_than_nothing_or_for_ever_is_refused(seconds):
    d = Diagrams(farmer())
    with pytest.raises(ValueError, match="'farmer to far' takes"):
        seconds_to(d, d.initial, d.model.actions, d.valid, lambda action: seconds)


@each_library
def test_a_goal_outside_what_is_allowed_has_no_way(library):
    d = Diagrams(farmer(), library)
    assert steps_to(d, d.initial, d.model.actions, d.empty) == [d.empty]
    assert seconds_to(d, d.initial, d.model.actions, d.empty, lambda a: 1.0) == [(0, d.empty)]


# The oracle's own ways


@given(model=models())
def test_quickest_with_equal_times_is_shortest(model):
    goal = model.rules[0].bad
    trace, timed = reference.shortest(model, goal), reference.quickest(model, goal, lambda a: 1.0)
    if trace is None:
        assert timed is None
    else:
        assert timed is not None
        assert timed[0] == len(trace) == len(timed[1])
        assert reference.replay(model, timed[1])


@given(model=models())
def test_a_quickest_way_takes_as_long_as_its_actions_and_no_longer_than_a_shortest(model):
    goal = model.rules[0].bad
    timed, trace = reference.quickest(model, goal), reference.shortest(model, goal)
    assume(timed is not None)

    def lasting(numbers) -> float:
        return sum(reference.at_most(model.actions[number]) for number in numbers)

    assert holds(goal, reference.replay(model, timed[1])[-1])
    assert timed[0] == pytest.approx(lasting(timed[1]))
    assert timed[0] <= lasting(trace)


@given(st.data())
def test_looking_up_what_guards_demand_leaves_no_action_out(data):
    # given any model and any of its states / when the oracle looks up what may be done
    model = built(lambda low, high: data.draw(st.integers(low, high)), "drawn")
    state = data.draw(st.sampled_from(list(all_states(model))))

    # then it finds what asking every guard finds
    asked = [n for n, action in enumerate(model.actions) if holds(action.guard, state)]
    assert reference.Possible(model)(state) == asked


def test_a_guard_that_demands_two_values_at_once_is_never_met():
    both = All((is_(0, 0), is_(0, 1)))
    variables = (Variable("thing", ("a", "b")),)
    model = Model("both", variables, (Action("never", both, ((0, 1),)),))
    assert reference.prove(model).states == 1
    assert symbolic.prove(model).states == 1


@pytest.mark.parametrize(
    ("trace", "words"),
    [
        ((0, 0), "action 2 of the trace, 'disc 0 from left to middle', may not be done there"),
        ((99,), "no action is numbered 99; there are 18"),
        ((-1,), "no action is numbered -1; there are 18"),
    ],
)
def test_a_trace_that_cannot_be_done_is_refused(trace, words):
    with pytest.raises(ValueError, match=words):
        reference.replay(hanoi(3), trace)


def test_a_way_that_does_not_exist_is_none():
    nowhere = NEVER
    assert reference.shortest(bridge_and_torch(), nowhere) is None
    assert reference.quickest(bridge_and_torch(), nowhere) is None
