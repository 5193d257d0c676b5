"""Models changed at random, thousands of them: all engines agree and none gives up."""

from __future__ import annotations

import os
import random
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))

from small_kit import dress, two

from neckring.procedure import explicit, reference, symbolic
from neckring.procedure.interleaving import every_order
from neckring.procedure.model import ALWAYS, NEVER, Action, Among, Condition, Model, Not, mapped

MUTANTS = 2000 if os.environ.get("NECKRING_SOAK") == "1" else 250
SOUND = (
    dress().ground.model(disciplined=True),
    dress().ground.model(disciplined=False),
    every_order(dress().procedure, 1, 1),
    every_order(two().procedure),
)


def mutant(model: Model, seed: int) -> Model:
    """A model with up to three things changed."""
    dice = random.Random(seed)
    for _ in range(dice.randint(1, 3)):
        model = dice.choice((_guard, _effect, _dropped, _rule, _start))(model, dice)
    return model


def _changed(model: Model, dice: random.Random, change) -> Model:
    place = dice.randrange(len(model.actions))
    actions = list(model.actions)
    actions[place] = change(actions[place])
    return replace(model, actions=tuple(actions))


def _guard(model: Model, dice: random.Random) -> Model:
    def changed(action: Action) -> Action:
        guards: tuple[Condition, ...] = (
            ALWAYS,
            NEVER,
            Not(action.guard),
            mapped(action.guard, lambda leaf: _shifted(model, leaf)),
        )
        return replace(action, guard=dice.choice(guards))

    return _changed(model, dice, changed)


def _shifted(model: Model, leaf: Among) -> Among:
    count = len(model.variables[leaf.variable].states)
    return Among(leaf.variable, frozenset((value + 1) % count for value in leaf.values))


def _effect(model: Model, dice: random.Random) -> Model:
    number = dice.randrange(len(model.variables))
    value = dice.randrange(len(model.variables[number].states))

    def changed(action: Action) -> Action:
        others = tuple(pair for pair in action.effects if pair[0] != number)
        return replace(action, effects=(*others, (number, value)))

    return _changed(model, dice, changed)


def _dropped(model: Model, dice: random.Random) -> Model:
    place = dice.randrange(len(model.actions))
    actions = model.actions[:place] + model.actions[place + 1 :]
    return replace(model, actions=actions or model.actions)


def _rule(model: Model, dice: random.Random) -> Model:
    rules = tuple(replace(rule, bad=Not(rule.bad)) for rule in model.rules)
    return replace(model, rules=rules if dice.random() < 0.2 else model.rules[:1])


def _start(model: Model, dice: random.Random) -> Model:
    number = dice.randrange(len(model.variables))
    variables = list(model.variables)
    value = dice.randrange(len(variables[number].states))
    variables[number] = replace(variables[number], start=value)
    return replace(model, variables=tuple(variables))


@settings(max_examples=MUTANTS, deadline=None)
@given(st.sampled_from(range(len(SOUND))), st.integers(0, 2**32 - 1))
def test_all_engines_say_the_same_of_a_changed_model(which: int, seed: int) -> None:
    # Given a sound model of a kit or of a procedure, changed at random,
    model = mutant(SOUND[which], seed)
    # then the oracle, the compiled search and the diagrams agree in all that they say.
    oracle = reference.prove(model)
    assert explicit.prove(model) == oracle
    diagrams = symbolic.prove(model, layered=True)
    assert diagrams == oracle
    assert symbolic.prove(model).verdict == oracle.verdict


def test_changes_break_some_models_and_spare_others() -> None:
    verdicts = [reference.prove(mutant(SOUND[0], seed)).verdict for seed in range(60)]
    assert len(set(verdicts)) == 2


@pytest.mark.parametrize("which", range(len(SOUND)))
def test_a_change_is_the_same_for_the_same_seed(which: int) -> None:
    assert mutant(SOUND[which], 7) == mutant(SOUND[which], 7)
