"""Which few checks catch most."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckring.procedure.cover import best_cover

NAMES = "abcdef"
# Few costs and small sets, so that equals and near equals are met often.
COSTS = st.sampled_from([0.0, 1.0, 1.0, 2.0, 2.001, 3600.0])
CAUGHT = st.frozensets(st.integers(0, 4), min_size=1, max_size=3)
CANDIDATES = st.dictionaries(
    st.sampled_from(NAMES), st.tuples(COSTS, CAUGHT), min_size=2, max_size=6
) | st.just({})
UNIVERSES = st.just(frozenset(range(5))) | st.frozensets(st.integers(0, 6))
BUDGETS = st.sampled_from([None, None, 0, 1, 2, 2, 3, 9])


def milliseconds(cost):
    return round(1000 * cost)


def merits(chosen, candidates, universe, budget):
    """What is compared, least first: as the docstring of `best_cover` lists it."""
    caught = universe & frozenset().union(*(candidates[name][1] for name in chosen))
    cost = sum(milliseconds(candidates[name][0]) for name in chosen)
    if budget is None:
        return -len(caught), cost, len(chosen)
    return -len(caught), len(chosen), cost


def every_choice(candidates, budget):
    most = len(candidates) if budget is None else min(budget, len(candidates))
    for size in range(most + 1):
        yield from combinations(sorted(candidates), size)


def worth_a_thought(candidates, universe):
    """Checks beside which no other catches as much for as little; of twins the first."""

    def beats(other, name):
        price, slips = milliseconds(candidates[name][0]), candidates[name][1] & universe
        their_price, theirs = milliseconds(candidates[other][0]), candidates[other][1] & universe
        if not (slips <= theirs and their_price <= price):
            return False
        return (theirs, their_price) != (slips, price) or other < name

    return {
        name: value
        for name, value in candidates.items()
        if value[1] & universe
        and not any(beats(other, name) for other in candidates if other != name)
    }


@given(CANDIDATES, UNIVERSES, BUDGETS)
def test_no_choice_is_better(candidates, universe, budget):
    # Given all choices there are, tried one by one
    best = min(merits(c, candidates, universe, budget) for c in every_choice(candidates, budget))
    # When the program chooses
    found = best_cover(candidates, universe, budget)
    # Then its choice is as good
    assert merits(found.chosen, candidates, universe, budget) == best


@given(CANDIDATES, UNIVERSES, BUDGETS)
def test_of_equals_the_first_by_name_is_taken(candidates, universe, budget):
    # Given the best of all choices among checks that no other beats
    kept = worth_a_thought(candidates, universe)
    choices = list(every_choice(kept, budget))
    best = min(merits(c, kept, universe, budget) for c in choices)
    equals = [c for c in choices if merits(c, kept, universe, budget) == best]

    def as_bits(choice):
        return [name in choice for name in sorted(kept)]

    # When the program chooses, then it takes the one whose names come first
    assert best_cover(candidates, universe, budget).chosen == max(equals, key=as_bits)


@given(CANDIDATES, UNIVERSES, BUDGETS, st.randoms(use_true_random=False))
def test_the_order_of_the_candidates_does_not_matter(candidates, universe, budget, random):
    # Given the same candidates in another order
    shuffled = list(candidates.items())
    random.shuffle(shuffled)
    # Then the answer is the same
    assert best_cover(dict(shuffled), universe, budget) == best_cover(candidates, universe, budget)


@given(CANDIDATES, UNIVERSES, BUDGETS)
def test_every_slip_is_told_once(candidates, universe, budget):
    found = best_cover(candidates, universe, budget)
    # Then caught, missed and beyond are the universe, without overlap
    assert found.caught | found.missed | found.beyond == universe
    assert len(found.caught) + len(found.missed) + len(found.beyond) == len(universe)
    assert all(not slips & found.beyond for _, slips in candidates.values())
    assert budget is not None or not found.missed


@settings(max_examples=20)
@given(st.permutations(range(30)), st.integers(2, 5))
def test_checks_that_do_not_overlap_are_taken_by_size(slips, budget):
    # Given checks that share no slip: of 1, 2, 4 ... slips
    sizes = (1, 2, 4, 8, 15)
    starts = (0, 1, 3, 7, 15)
    candidates = {
        f"check {size:02}": (1.0, frozenset(slips[start : start + size]))
        for size, start in zip(sizes, starts, strict=True)
    }
    # When a few may be added, then the largest are
    found = best_cover(candidates, frozenset(slips), budget)
    assert found.chosen == tuple(f"check {size:02}" for size in sizes[-budget:])


def test_with_a_budget_fewer_checks_go_before_cheaper_ones():
    # Given one dear check that catches what two cheap ones do
    candidates = {
        "all at once": (30.0, frozenset({1, 2})),
        "one": (5.0, frozenset({1})),
        "two": (5.0, frozenset({2})),
    }
    universe = frozenset({1, 2, 3})
    # When checks are counted, then one is taken; when seconds are, the two
    assert best_cover(candidates, universe, 2).chosen == ("all at once",)
    found = best_cover(candidates, universe)
    assert found.chosen == ("one", "two")
    assert (found.cost, found.missed, found.beyond) == (10.0, frozenset(), frozenset({3}))


def test_of_three_equals_the_first_is_taken():
    candidates = {name: (5.0, frozenset({place})) for place, name in enumerate("cab")}
    assert best_cover(candidates, frozenset(range(3)), 1).chosen == ("a",)
    assert best_cover(candidates, frozenset(range(3)), 2).chosen == ("a", "b")


def test_the_largest_check_first_is_not_always_best():
    # Given a check that catches four, and two that together catch all six
    candidates = {
        "large": (10.0, frozenset({1, 2, 4, 5})),
        "left": (20.0, frozenset({1, 2, 3})),
        "right": (20.0, frozenset({4, 5, 6})),
    }
    # When all must be caught, then the large one is not needed
    found = best_cover(candidates, frozenset(range(1, 7)))
    assert found.chosen == ("left", "right")
    assert found.cost == 40.0


@pytest.mark.parametrize(
    ("cost", "budget", "words"),
    [(-1.0, None, 'cost of "feel"'), (float("nan"), None, "accepted: 0"), (1.0, -1, "budget")],
)
def test_what_makes_no_sense_is_refused(cost, budget, words):
    with pytest.raises(ValueError, match=words):
        best_cover({"feel": (cost, frozenset({1}))}, frozenset({1}), budget)
