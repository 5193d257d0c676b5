"""A stranger's verdict: what we write for spin, and spin's own states, transitions and traces."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import spin
from known_problems import farmer, philosophers, unruled
from random_models import random_model

from neckring.procedure import explicit, reference, symbolic
from neckring.procedure.findings import Verdict
from neckring.procedure.model import ALWAYS, Action, All, Among, Model, Rule, Variable, holds
from neckring.procedure.promela import promela

SOAK = os.environ.get("NECKRING_SOAK") == "1"
SEEDS = range(400 if SOAK else 50)
PROCESSES = 2

needs_spin = pytest.mark.skipif(bool(spin.ABSENT), reason=spin.WHY_SKIPPED)


@dataclass(frozen=True)
class SpinSays:
    """Spin on one model: with its rules, as if it had none, and its trail if a rule breaks."""

    ruled: spin.Answer
    whole: spin.Answer
    trail: tuple[int, ...] | None
    rule: int | None


def asked(model: Model, folder: Path, optimised: bool = False) -> SpinSays:
    spin.build(model, folder, optimised)
    ruled = spin.search(folder)
    numbers, rule = spin.trail(model, folder) if ruled.errors else (None, None)
    return SpinSays(ruled, spin.search(folder, with_rules=False), numbers, rule)


def all_asked(models: list[Model], folder: Path) -> Iterator[dict[str, Future[SpinSays]]]:
    """Spin on several models, two at a time, while their answers are already being compared."""
    with ThreadPoolExecutor(PROCESSES) as pool:
        yield {
            model.name: pool.submit(asked, model, folder / model.name.replace(" ", "_"))
            for model in models
        }


@pytest.fixture(scope="module")
def random_answers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, object]]:
    yield from all_asked([random_model(seed) for seed in SEEDS], tmp_path_factory.mktemp("random"))


def agree(model: Model, says: SpinSays) -> None:
    """That spin and the oracle say the same of a model, in every figure."""
    proof, everything = reference.prove(model), reference.prove(unruled(model))
    broken_anywhere = sum(
        holds(rule.bad, state) for state in reference.distances(model) for rule in model.rules
    )

    # All that can be reached, whatever breaks.
    assert says.whole.errors == 0
    assert says.whole.states == everything.states
    assert says.whole.transitions == everything.transitions + 1 + broken_anywhere
    assert says.whole.depth == everything.depth

    # The verdict, and the shortest trace.
    assert (says.ruled.errors == 1) == (proof.verdict is Verdict.BROKEN)
    if proof.broken is None:
        assert says.trail is None
        assert says.ruled == says.whole
        assert proof.transitions is not None
        assert says.ruled.transitions == proof.transitions + 1
        return
    assert says.trail is not None
    assert says.rule is not None
    assert says.ruled.error_depth == len(says.trail) == len(proof.broken.trace)
    last = reference.replay(model, says.trail)[-1]
    assert holds(model.rules[says.rule].bad, last)


@needs_spin
@pytest.mark.parametrize("seed", SEEDS)
def test_spin_agrees_on_random_models(seed, random_answers):
    # given a random model / when spin and the oracle search it / then all figures are equal
    model = random_model(seed)
    agree(model, random_answers[model.name].result())


def test_random_models_break_and_keep_their_rules_in_many_ways():
    # given the seeds of this file / when they are proved
    proofs = [reference.prove(random_model(seed)) for seed in SEEDS]

    # then neither verdict is rare, some traces are long, and some models are not tiny
    broken = [proof.broken.trace for proof in proofs if proof.broken]
    assert len(SEEDS) // 5 < len(broken) < 4 * len(SEEDS) // 5
    assert max(map(len, broken)) >= 3
    assert max(proof.states for proof in proofs) >= 60


@needs_spin
@pytest.mark.parametrize("count", [3, 5, 8, 10])
def test_spin_agrees_on_dining_philosophers(count, tmp_path):
    # given philosophers who take the left fork first / when both search
    model = philosophers(count)
    says = asked(model, tmp_path, optimised=True)

    # then all figures are equal, and the only way to get stuck is that each holds a left fork
    agree(model, says)
    assert says.trail is not None
    assert sorted(says.trail) == [3 * one for one in range(count)]


def mutants(model: Model) -> Iterator[Model]:
    """The model with one guard of one action dropped, for each guard of each action."""
    for number, action in enumerate(model.actions):
        parts = action.guard.parts if isinstance(action.guard, All) else (action.guard,)
        for place in range(len(parts)):
            loose = replace(action, guard=All(parts[:place] + parts[place + 1 :]))
            actions = (*model.actions[:number], loose, *model.actions[number + 1 :])
            yield replace(model, name=f"without {number} {place}", actions=actions)


@pytest.fixture(scope="module")
def mutant_answers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, object]]:
    yield from all_asked(MUTANTS, tmp_path_factory.mktemp("mutants"))


SOUND = farmer(ruled_by_company=True)
MUTANTS = list(mutants(SOUND))


def test_the_model_that_is_mutated_is_sound_and_some_of_its_guards_keep_it_so():
    assert reference.prove(SOUND).verdict is Verdict.PROVED
    broken = {
        mutant.name: proof.broken.trace
        for mutant in MUTANTS
        if (proof := reference.prove(mutant)).broken
    }
    # Others only say who is aboard, and two crossings can only go wrong where nobody ever is.
    assert len(SOUND.actions) // 2 < len(broken) < len(MUTANTS)
    assert min(map(len, broken.values())) == 1
    assert max(map(len, broken.values())) > 3


@needs_spin
@pytest.mark.parametrize("mutant", MUTANTS, ids=[mutant.name for mutant in MUTANTS])
def test_every_engine_says_the_same_of_a_model_with_a_guard_dropped(mutant, mutant_answers):
    # given a sound model with one guard dropped / when each engine proves it
    says = mutant_answers[mutant.name].result()
    expected = reference.prove(mutant)
    answers = [
        symbolic.prove(mutant, library="cudd"),
        symbolic.prove(mutant, library="autoref"),
        explicit.prove(mutant),
    ]

    # then all verdicts, rules and lengths of the shortest trace are the same
    agree(mutant, says)
    for answer in answers:
        assert answer.verdict is expected.verdict
        if expected.broken is not None:
            assert answer.broken is not None
            assert answer.broken.rule == expected.broken.rule
            assert len(answer.broken.trace) == len(expected.broken.trace)


@needs_spin
def test_a_search_that_spin_cut_short_is_no_answer(tmp_path):
    # given a model deeper than spin is allowed to go
    spin.build(philosophers(5, ruled=False), tmp_path)

    # when it searches / then that is noticed, though it reports no error
    with pytest.raises(spin.IncompleteSearchError, match="max search depth too small"):
        spin.search(tmp_path, most_deep=2)


@pytest.mark.parametrize("words", spin.INCOMPLETE)
def test_words_of_an_incomplete_search_are_noticed(words):
    whole = (
        "State-vector 20 byte, depth reached 5, errors: 0\n"
        "       82 states, stored\n      266 transitions (= stored+matched)\n"
    )
    assert spin.parsed(whole) == spin.Answer(82, 266, 5, 0, None)
    with pytest.raises(spin.IncompleteSearchError, match=words):
        spin.parsed(f"pan: {words}\n{whole}")


AWKWARD = Model(
    "ends */ a comment",
    (
        Variable("if", ("on", "off */")),
        Variable("A.helmet", ("off", "seated", "locked"), 1),
        Variable("A_helmet", ("Ü", "a\nb"), 1),
        Variable("only", ("one",)),
        Variable("many", tuple(f"s{n}" for n in range(300)), 299),
    ),
    (
        Action("do;od", ALWAYS, ((0, 1), (4, 0))),
        Action("nothing", All(()), ()),
        Action("0", All((ALWAYS,)), ((1, 2),)),
    ),
    (Rule("never /*", All((Among(1, frozenset((2,))), ALWAYS))),),
)


@needs_spin
def test_spin_reads_names_that_are_words_of_its_own_language(tmp_path):
    # given names that end comments, are keywords or differ only in signs / then it still agrees
    agree(AWKWARD, asked(AWKWARD, tmp_path))


@needs_spin
def test_a_model_in_which_nothing_can_happen_has_one_state(tmp_path):
    still = Model("still", (Variable("thing", ("a", "b"), 1),), ())
    agree(still, asked(still, tmp_path))


def test_promela_refuses_a_variable_that_it_cannot_count():
    class Endless(tuple):
        def __len__(self):
            return 2**31 + 1

    endless = Model("endless", (Variable("thing", Endless()),), ())
    with pytest.raises(ValueError, match="'thing' has 2147483649 values"):
        promela(endless)
