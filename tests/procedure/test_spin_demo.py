"""The model checker spin on the demo's kit: the same states, depth and verdict as ours.

The kit is frozen in some of its things, so that spin, which keeps every state, ends in seconds.
"""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from spin import ABSENT, WHY_SKIPPED, as_printed, build, search

import neckring.station
from neckring.procedure import explicit, symbolic
from neckring.procedure.findings import Verdict
from neckring.procedure.grounding import ground
from neckring.procedure.interleaving import every_order
from neckring.procedure.listing import listed
from neckring.procedure.model import ALWAYS, Model
from neckring.station.loading import LoadedStation, load_station

SOAK = os.environ.get("NECKRING_SOAK") == "1"
MOST_STATES = 600_000 if SOAK else 60_000
# Without one of its guards a kit may reach far more states than spin goes through in seconds.
MOST_OF_MUTANT = None if SOAK else 4_000_000
pytestmark = pytest.mark.skipif(bool(ABSENT), reason=WHY_SKIPPED)


@cache
def demo() -> LoadedStation:
    return load_station(Path(neckring.station.__file__).parent / "demo")


@cache
def frozen() -> Model:
    """The disciplined kit with as many things frozen, the last first, as makes it small enough."""
    model = ground(demo().kits["dipper"]).model(disciplined=True)
    for keep in range(len(model.variables), 0, -1):
        actions = tuple(a for a in model.actions if all(v < keep for v, _ in a.effects))
        smaller = replace(model, actions=actions)
        if symbolic.prove(smaller).states <= MOST_STATES:
            return smaller
    raise AssertionError("no part of the kit is small enough")


def mutants() -> list[Model]:
    """The frozen kit without the guard of one action; one for each action of it in the soak.

    Those that reach too many states for a short test are left out of it; the soak has all.
    """
    model = frozen()
    numbers = range(len(model.actions)) if SOAK else range(0, len(model.actions), 3)
    every = [
        replace(
            model,
            name=f"without the guard of {model.actions[n].name}",
            actions=(
                *model.actions[:n],
                replace(model.actions[n], guard=ALWAYS),
                *model.actions[n + 1 :],
            ),
        )
        for n in numbers
    ]
    if MOST_OF_MUTANT is None:
        return every
    small = [one for one in every if symbolic.prove(one, counted=False).states <= MOST_OF_MUTANT]
    assert len(small) > 0.8 * len(every)
    return small


def agrees(model: Model, folder: Path) -> Verdict:
    """Hold spin against the compiled search; the verdict of both."""
    proof = explicit.prove(model)
    build(model, folder, optimised=SOAK)
    said = search(folder, expected=proof.states)
    assert (said.errors > 0) == (proof.verdict is Verdict.BROKEN)
    if proof.broken is not None:
        assert said.error_depth == len(proof.broken.trace)
    else:
        assert proof.transitions is not None
        assert said.states == as_printed(proof.states)
        assert said.transitions == as_printed(proof.transitions + 1)
        assert said.depth == proof.depth
    return proof.verdict


def test_spin_agrees_on_the_kit(tmp_path: Path) -> None:
    assert explicit.prove(frozen()).states > MOST_STATES / 50
    assert agrees(frozen(), tmp_path) is Verdict.PROVED


def test_spin_agrees_where_a_guard_is_dropped(tmp_path: Path) -> None:
    verdicts = [agrees(model, tmp_path / str(n)) for n, model in enumerate(mutants())]
    assert Verdict.BROKEN in verdicts


@pytest.mark.parametrize("code", ["dress", "air-lost"])
def test_spin_agrees_on_a_procedure_in_every_order(code: str, tmp_path: Path) -> None:
    made = listed(code, demo().procedures, demo().kits)
    assert agrees(every_order(made.procedure), tmp_path) is Verdict.PROVED
