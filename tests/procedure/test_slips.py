"""Slips: what each means, by hand; the compiled walk against the oracle; laws."""

from __future__ import annotations

import math
import random
import sys
from collections import Counter
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))

from random_procedures import procedures, random_procedure

from neckring.procedure.model import (
    ALWAYS,
    Action,
    All,
    Among,
    Duration,
    Model,
    Not,
    Rule,
    Variable,
)
from neckring.procedure.slip_endings import NotRunningError, Pairs
from neckring.procedure.slip_oracle import nominal, sequence
from neckring.procedure.slip_search import SlipSearch, all_pairs, all_singles
from neckring.procedure.slips import (
    Deviation,
    Outcome,
    SlipKind,
    early_targets,
    failures,
    in_words,
    late_targets,
    slips,
)
from neckring.procedure.steps import Procedure, Step, StepKind, TimedRule

AIR, HELMET, HOSE = range(3)
OFF, ON = 0, 1
MOVE, CHECK, SAY, MEET = StepKind.MOVE, StepKind.CHECK, StepKind.SAY, StepKind.MEET
OMIT, REPEAT, LATE, EARLY = SlipKind.OMIT, SlipKind.REPEAT, SlipKind.LATE, SlipKind.EARLY
OTHER, HALF, FAILURE = SlipKind.OTHER, SlipKind.HALF, SlipKind.FAILURE
TEN = Duration(6.0, 8.0, 10.0)


def is_(variable: int, value: int = ON) -> Among:
    return Among(variable, frozenset((value,)))


def move(number: int, variable: int, value: int, guard=ALWAYS, **more) -> Step:
    name = f"set {variable} to {value}"
    return Step(number, 0, MOVE, name, guard, ((variable, value),), duration=TEN, **more)


def check(number: int, seen, lane: int = 0) -> Step:
    return Step(number, lane, CHECK, "look", seen, duration=TEN)


def kit(*rules: Rule) -> Model:
    things = tuple(Variable(name, ("off", "on")) for name in ("air", "helmet", "hose"))
    return Model("kit", things, (), rules)


SEALED = All((is_(HELMET), is_(AIR, OFF)))
NO_AIR = Rule("helmet on without air", SEALED)


def closing() -> Procedure:
    """The hose on, air on, a look at the air, the helmet on, a look at the helmet."""
    steps = (
        move(1, HOSE, ON),
        move(2, AIR, ON, is_(HOSE), half=((AIR, OFF),), others=(breathing_out(),)),
        check(3, is_(AIR)),
        move(4, HELMET, ON),
        check(5, is_(HELMET)),
    )
    stops = Action("the air stops", is_(AIR), ((AIR, OFF),))
    return Procedure(kit(NO_AIR), (), ("A",), steps, (stops,), is_(HELMET))


def breathing_out() -> Action:
    return Action("the helmet on", ALWAYS, ((HELMET, ON),), TEN)


def outcome(procedure: Procedure, *deviations: tuple) -> tuple:
    found = sequence(procedure, [Deviation(*d) for d in deviations])
    return None if found is None else (found.outcome, found.step, found.rule)


EXPECTED = {
    (0, OMIT): (Outcome.BLOCKED, 1, None),
    (0, LATE, 1): (Outcome.BLOCKED, 1, None),
    (1, OMIT): (Outcome.CAUGHT, 2, None),
    (1, REPEAT): (Outcome.HARMLESS, None, None),
    (1, LATE, 1): (Outcome.CAUGHT, 2, None),
    (1, HALF): (Outcome.CAUGHT, 2, None),
    (1, OTHER, 0): (Outcome.HARM, 1, 0),
    (2, OMIT): (Outcome.HARMLESS, None, None),
    (2, LATE, 1): (Outcome.HARMLESS, None, None),
    (1, EARLY, 2): (Outcome.HARM, 3, 0),
    (0, EARLY, 2): (Outcome.CAUGHT, 2, None),
    (3, OMIT): (Outcome.CAUGHT, 4, None),
    (4, OMIT): (Outcome.HARMLESS, None, None),
    (0, FAILURE, 0): None,
    (2, FAILURE, 0): (Outcome.CAUGHT, 2, None),
    (3, FAILURE, 0): (Outcome.HARM, 3, 0),
    (4, FAILURE, 0): (Outcome.HARM, 4, 0),
}


@pytest.mark.parametrize("deviation", EXPECTED, ids=lambda d: f"{d[0]} {d[1]} {d[2:]}")
def test_single_deviations_whose_end_is_known(deviation):
    # given the closing of a helmet / when one thing goes wrong / then it ends as thought through
    assert outcome(closing(), deviation) == EXPECTED[deviation]


def test_pairs_whose_end_is_known():
    # given the closing of a helmet
    procedure = closing()

    # when the air is forgotten and so is the look at it, then the helmet does harm
    assert outcome(procedure, (1, OMIT), (2, OMIT)) == (Outcome.HARM, 3, 0)
    # or the look comes only when the helmet is on
    assert outcome(procedure, (1, OMIT), (2, LATE, 1)) == (Outcome.HARM, 3, 0)
    # when nobody puts the helmet on nor looks at it, nothing shows
    assert outcome(procedure, (3, OMIT), (4, OMIT)) == (Outcome.LATENT, None, None)

    # given three looks / when the last was done early, then nothing can slip in its own place
    looks = replace(procedure, steps=tuple(check(n, ALWAYS) for n in (1, 2, 3)))
    assert outcome(looks, (0, EARLY, 2)) == (Outcome.HARMLESS, None, None)
    assert outcome(looks, (0, EARLY, 2), (2, OMIT)) is None


def test_overlapping_slips_keep_the_order_in_which_things_fall_due():
    # given two steps late until after the third, and a check that all is there
    steps = (move(1, AIR, ON), move(2, AIR, OFF), move(3, HOSE, ON), check(4, is_(HOSE)))
    procedure = Procedure(kit(), (), ("A",), steps)

    # when both are late, then they are done in the order written, and the air is off as it should
    assert outcome(procedure, (0, LATE, 2), (1, LATE, 1)) == (Outcome.HARMLESS, None, None)
    # when only the first is, the air stays on
    assert outcome(procedure, (0, LATE, 2)) == (Outcome.LATENT, None, None)


@pytest.mark.parametrize(("longest", "expected"), [(30.0, Outcome.HARMLESS), (29.9, Outcome.HARM)])
def test_a_timed_rule_counts_the_longest_of_every_step_to_the_second(longest, expected):
    # given a helmet on for three steps of at most ten seconds, the last of which gives air
    steps = (move(1, HELMET, ON), check(2, ALWAYS), check(3, ALWAYS), move(4, AIR, ON))
    rule = TimedRule("helmet on without air", SEALED, longest)
    procedure = Procedure(kit(NO_HARM), (rule,), ("A",), steps)

    # when nothing slips / then it is harm exactly when thirty seconds are too long
    found = nominal(procedure)
    assert found.outcome is expected
    assert (found.step, found.rule) == ((3, 1) if expected is Outcome.HARM else (None, None))


NO_HARM = Rule("never", All((is_(AIR, ON), is_(AIR, OFF))))


def test_a_timed_rule_starts_anew_when_it_has_ceased_to_be_broken():
    # given thirty seconds without air, a breath of air, and twenty seconds more
    on, off = move(1, HELMET, ON), move(5, AIR, OFF)
    steps = (on, check(2, ALWAYS), check(3, ALWAYS), move(4, AIR, ON), off, check(6, ALWAYS))
    rule = TimedRule("helmet on without air", SEALED, 30.0)

    # when it runs / then fifty in all are not thirty on end
    found = nominal(Procedure(kit(), (rule,), ("A",), steps))
    assert found.outcome is Outcome.HARMLESS


def test_spare_is_the_time_until_harm_had_nobody_noticed():
    # given that the air is forgotten, and the look at it finds so
    procedure = closing()
    found = sequence(procedure, [Deviation(1, OMIT)])

    # when nobody had noticed / then harm came with the helmet, one step of eight seconds later
    assert found.outcome is Outcome.CAUGHT
    assert found.spare == 8.0

    # and what can do no harm has spare time without end
    assert sequence(procedure, [Deviation(3, OMIT)]).spare == math.inf


def test_spare_counts_what_is_left_on_the_clock_of_a_timed_rule():
    # given a look that fails ten seconds after the helmet went on without air
    rule = TimedRule("helmet on without air", SEALED, 100.0)
    steps = (move(1, AIR, ON), move(2, HELMET, ON), check(3, is_(AIR)), check(4, ALWAYS))
    procedure = Procedure(kit(), (rule,), ("A",), steps)

    # when nobody had noticed / then ninety seconds would have been left
    assert sequence(procedure, [Deviation(0, OMIT)]).spare == 90.0


def test_late_and_early_stay_in_their_own_lane_and_are_listed_once():
    # given two lanes, something said, and a meeting
    other = Step(3, 1, MOVE, "other lane", ALWAYS, ((HOSE, ON),))
    said, met = Step(2, 0, SAY, "ready"), Step(5, -1, MEET, "meet", meets=frozenset((0, 1)))
    steps = (move(1, AIR, ON), said, other, move(4, HELMET, ON), met, check(6, is_(AIR)))
    procedure = Procedure(kit(), (), ("A", "B"), steps)

    # when targets are looked up / then they are these
    assert late_targets(procedure) == ({1: 4, 2: 6}, {}, {1: 6}, {1: 6}, {}, {})
    assert early_targets(procedure) == ({2: 5}, {}, {}, {}, {}, {})
    assert {slip.position for slip in slips(procedure)} == {0, 2, 3, 5}
    assert failures(procedure) == ()


def test_deviations_in_words():
    # given the closing of a helmet / when each kind is told / then it reads like this
    told = {d: in_words(Deviation(*d), closing()) for d in EXPECTED}
    assert told[(0, OMIT)] == "step 1 left out"
    assert told[(1, REPEAT)] == "step 2 done twice"
    assert told[(0, LATE, 1)] == "step 1 done after step 2"
    assert told[(1, EARLY, 2)] == "step 4 done before step 2"
    assert told[(1, OTHER, 0)] == "in place of step 2: the helmet on"
    assert told[(1, HALF)] == "step 2 only half done"
    assert told[(3, FAILURE, 0)] == "just before step 4: the air stops"
    steps = (*closing().steps, Step(6, 1, CHECK, "look"))
    longer = replace(closing(), steps=steps)
    assert in_words(Deviation(4, LATE, 1), longer) == "step 5 done at the very end"


def test_a_procedure_that_does_not_run_is_told_where_it_stops():
    # given a look that fails as written
    steps = (move(1, AIR, ON), check(2, is_(HELMET)), move(3, HELMET, ON))
    procedure = Procedure(kit(), (), ("A",), steps)

    # when its slips are asked for / then the answer is where it stops
    with pytest.raises(NotRunningError, match="does not run") as stopped:
        all_singles(procedure)
    assert (stopped.value.outcome, stopped.value.step) == (Outcome.CAUGHT, 1)


def test_two_slips_on_one_step_are_refused():
    # given two slips on one step / when the oracle is asked / then it refuses
    with pytest.raises(ValueError, match="one slip at a position"):
        sequence(closing(), [Deviation(1, OMIT), Deviation(1, REPEAT)])


def searched(procedure: Procedure) -> SlipSearch:
    """The compiled walk of a procedure that runs as written."""
    assume(nominal(procedure).outcome is Outcome.HARMLESS)
    return SlipSearch(procedure)


def agree_on_singles(procedure: Procedure, search: SlipSearch) -> None:
    compiled = {f.deviation: (f.outcome, f.step, f.rule) for f in search.singles()}
    for deviation in (*search.slips, *search.failures):
        found = sequence(procedure, (deviation,))
        told = None if found is None else (found.outcome, found.step, found.rule)
        assert compiled.get(deviation) == told, in_words(deviation, procedure)


@given(procedure=procedures())
def test_the_compiled_walk_says_of_every_single_what_the_oracle_says(procedure):
    # given any procedure / when both are asked / then outcome, step and rule are equal
    agree_on_singles(procedure, searched(procedure))


@given(procedure=procedures())
def test_a_procedure_that_stops_stops_alike_in_both(procedure):
    # given any procedure turned round, that does not run as written
    procedure = replace(procedure, steps=procedure.steps[::-1])
    expected = nominal(procedure)
    assume(expected.outcome is not Outcome.HARMLESS)

    # when it is walked / then it stops for the same reason
    with pytest.raises(NotRunningError) as stopped:
        SlipSearch(procedure).pairs()
    told = stopped.value
    assert (told.outcome, told.step, told.rule) == (expected.outcome, expected.step, expected.rule)


def all_by_oracle(procedure: Procedure, chosen) -> dict:
    """Every pair by the oracle: counted, settled by the first, void, harmful."""
    outcomes, settled, void, harmful = Counter(), Counter(), 0, set()
    for one, other in chosen:
        found = sequence(procedure, (one, other))
        if found is None:
            void += 1
        elif found.happened < 2:
            settled[found.outcome] += 1
        else:
            outcomes[found.outcome] += 1
            if found.outcome is Outcome.HARM:
                harmful.add(frozenset((one, other)))
    return {"outcomes": outcomes, "settled": settled, "void": void, "harmful": harmful}


def in_same_terms(pairs: Pairs) -> dict:
    return {
        "outcomes": +Counter(pairs.outcomes),
        "settled": +Counter(pairs.settled_by_first),
        "void": pairs.void,
        "harmful": {frozenset(pair) for pair in pairs.harmful},
    }


@settings(max_examples=25)
@given(procedure=procedures())
def test_the_compiled_walk_counts_pairs_as_the_oracle_does(procedure):
    # given any short procedure
    search = searched(procedure)

    # when all pairs of slips are gone through by both / then counts and harmful ones are equal
    chosen = [p for p in combinations(search.slips, 2) if p[0].position != p[1].position]
    pairs = search.pairs()
    assert in_same_terms(pairs) == all_by_oracle(procedure, chosen)
    assert len(pairs.harmful) == pairs.outcomes[Outcome.HARM]

    # and each counted pair is in the shares of both
    assert pairs.shares.sum() == 2 * sum(pairs.outcomes.values())


@settings(max_examples=25)
@given(procedure=procedures())
def test_the_compiled_walk_counts_slips_with_failures_as_the_oracle_does(procedure):
    # given any short procedure
    search = searched(procedure)

    # when every slip meets every failure / then counts and harmful ones are equal
    chosen = [(slip, failure) for slip in search.slips for failure in search.failures]
    assert in_same_terms(search.pairs_with_failure()) == all_by_oracle(procedure, chosen)


@pytest.mark.parametrize("seed", range(4))
def test_sampled_pairs_of_a_long_procedure_agree(seed):
    # given sixty steps on things that take more than one word
    source = random.Random(seed)
    drawn = (random_procedure(source, 60, variables=80) for _ in range(1000))
    procedure = next(p for p in drawn if nominal(p).outcome is Outcome.HARMLESS)
    search = SlipSearch(procedure)
    agree_on_singles(procedure, search)

    # when pairs are sampled / then those the oracle calls harm are those listed as harmful
    harmful = {frozenset(pair) for pair in search.pairs().harmful}
    for one, other in sample_pairs(source, search, harmful):
        found = sequence(procedure, (one, other))
        bad = found is not None and found.happened == 2 and found.outcome is Outcome.HARM
        assert bad == (frozenset((one, other)) in harmful)


def sample_pairs(source: random.Random, search: SlipSearch, harmful: set) -> list:
    pairs = [source.sample(search.slips, 2) for _ in range(300)]
    # Most pairs do no harm, so some that do are asked of the oracle as well.
    pairs += [tuple(p) for p in source.sample(sorted(harmful, key=str), min(100, len(harmful)))]
    return [(one, other) for one, other in pairs if one.position != other.position]


def test_room_for_situations_grows_when_there_are_many():
    # given a long procedure and too little room at first
    source = random.Random(3)
    drawn = (random_procedure(source, 40) for _ in range(1000))
    procedure = next(p for p in drawn if nominal(p).outcome is Outcome.HARMLESS)
    expected = all_pairs(procedure)

    # when the walk begins with room for two / then it ends the same
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("neckring.procedure.slip_search.PAIRS_ROOM", 2)
        found = all_pairs(procedure)
    assert found.outcomes == expected.outcomes
    assert found.harmful == expected.harmful


@given(procedure=procedures())
def test_checks_alone_never_harm(procedure):
    # given a procedure of looks only, on a kit whose rules hold at the start
    looks = tuple(step for step in procedure.steps if step.kind is CHECK)
    only = replace(procedure, steps=looks, timed=(), failures=())
    search = searched(only)

    # when anything slips, once or twice / then nothing is ever broken, blocked or left otherwise
    seen = {found.outcome for found in search.singles()}
    assert seen <= {Outcome.HARMLESS, Outcome.CAUGHT}
    pairs = search.pairs().outcomes
    assert pairs[Outcome.HARM] == pairs[Outcome.LATENT] == pairs[Outcome.BLOCKED] == 0


@given(procedure=procedures(), data=st.data())
def test_one_more_look_adds_no_harm(procedure, data):
    # given a procedure without timed rules, and one of its looks made once more right after itself
    plain = replace(procedure, timed=(), failures=())
    places = [n for n, step in enumerate(plain.steps) if step.kind is CHECK]
    assume(places)
    at = data.draw(st.sampled_from(places))
    twice = replace(plain, steps=(*plain.steps[: at + 1], *plain.steps[at:]))
    search, after = searched(plain), searched(twice)

    # when each step slips by itself, without moving / then no harm is new
    def harms(found, skipped):
        return {
            (f.deviation.position - (f.deviation.position > skipped), *key(f.deviation))
            for f in found
            if f.outcome is Outcome.HARM and f.deviation.kind not in (LATE, EARLY)
        }

    def key(deviation):
        return deviation.kind, deviation.argument

    assert harms(after.singles(), at) <= harms(search.singles(), len(plain.steps))


@given(procedure=procedures())
def test_a_rule_more_never_makes_harm_less(procedure):
    # given any procedure and the same with one rule fewer
    search = searched(procedure)
    assume(procedure.model.rules)
    model = replace(procedure.model, rules=procedure.model.rules[1:])
    fewer = SlipSearch(replace(procedure, model=model))

    # when singles are compared / then whatever does harm by fewer rules does so by more
    def harm(search):
        return {f.deviation for f in search.singles() if f.outcome is Outcome.HARM}

    assert harm(fewer) <= harm(search)


def test_a_rule_broken_from_the_start_is_found_at_the_first_move():
    # given a rule that the start itself breaks, and a first move that does not touch it
    rule = Rule("no hose", Not(is_(HOSE)))
    procedure = Procedure(kit(rule), (), ("A",), (check(1, ALWAYS), move(2, AIR, ON)))

    # when it is walked / then both find harm at the first move
    expected = nominal(procedure)
    assert (expected.outcome, expected.step, expected.rule) == (Outcome.HARM, 1, 0)
    with pytest.raises(NotRunningError) as stopped:
        all_singles(procedure)
    assert (stopped.value.outcome, stopped.value.step, stopped.value.rule) == (Outcome.HARM, 1, 0)
