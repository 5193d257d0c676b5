"""How fast procedures are proved: the compiled search beside spin, and all slips of a procedure."""

from __future__ import annotations

import re
import subprocess
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from neckring.procedure import symbolic
from neckring.procedure.asked import Asked
from neckring.procedure.examiner import examine
from neckring.procedure.explicit import prove
from neckring.procedure.findings import Verdict
from neckring.procedure.grounding import ground
from neckring.procedure.listing import listed
from neckring.procedure.model import ALWAYS, All, Model, Rule
from neckring.procedure.promela import promela
from neckring.procedure.slip_search import SlipSearch
from neckring.procedure.steps import Procedure
from neckring.station.loading import LoadedStation, load_station
from peers import compare

# Breadth first, every state kept, nothing left out on purpose; optimised for speed.
SPIN = ("spin", "-o1", "-o2", "-o3", "-a", "model.pml")
COMPILER = ("gcc", "-w", "-O2", "-DSAFETY", "-DNOREDUCE", "-DBFS", "-o", "pan", "pan.c")
# A table of 2^22 places at the start, so that spin need not make it wider on the way.
VERIFIER = ("./pan", "-w22", "-m100000")
TURNS = 3
SLIP_TURNS = 25
# Moves of the demo kit whose guard is dropped, to see how fast the way to harm is found.
UNGUARDED = ("start_pump", "walk_out", "leave_wearer")


def explicit_against_spin(model: Model, turns: int = TURNS) -> dict[str, float]:
    """States per second of both on one model, best of several turns, in alternation.

    Writing and compiling spin's verifier, some seconds for each model, is not counted against it.

    Args:
        model: One whose proof takes at least some tenths of a second.
        turns: How often.

    Raises:
        RuntimeError: when the two do not reach the same number of states.
    """
    proof = prove(model)
    if proof.verdict is not Verdict.PROVED:
        raise RuntimeError(f"only a proof that reaches all states is a fair run: {proof.verdict}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "model.pml").write_text(promela(model), encoding="ascii")
        run(SPIN, folder)
        run(COMPILER, folder)
        states = stored(run(VERIFIER, folder))
        if states != proof.states:
            raise RuntimeError(f"spin reaches {states} states, neckring {proof.states}")
        result = compare(
            lambda: lambda: prove(model),
            proof.states,
            lambda: lambda: run(VERIFIER, folder),
            states,
            turns,
        )
    return {
        "explicit_states": float(proof.states),
        "explicit_states_per_second": result.ours,
        "spin_states_per_second": result.peers,
        "explicit_states_vs_spin": result.ratio,
    }


def run(command: tuple[str, ...], folder: Path) -> str:
    """What a program says; it must end well."""
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True).stdout


def stored(said: str) -> int:
    """States that spin stored in a whole search without error."""
    found = re.search(r"^\s*(\d+) states, stored$", said, re.MULTILINE)
    if found is None or "errors: 0" not in said or "search depth too small" in said:
        raise RuntimeError(f"spin did not search everything: {said[:2000]}")
    return int(found[1])


def slips_of_sixty_steps(procedure: Procedure, turns: int = SLIP_TURNS) -> dict[str, float]:
    """Time of all single slips and of all pairs, best of several turns, made ready before.

    Slips are those of people; breakdowns of the kit are a budget of their own, timed beside them.

    Args:
        procedure: One that runs as written; named for how long ours is.
        turns: How often.
    """
    alone = SlipSearch(replace(procedure, failures=()))
    search = SlipSearch(procedure)
    pairs = alone.pairs()
    return {
        "slip_steps": float(len(procedure.steps)),
        "single_slips": float(len(alone.slips)),
        "single_breakdowns": float(len(search.failures)),
        "double_slips": float(sum(pairs.outcomes.values()) + sum(pairs.settled_by_first.values())),
        "slips_made_ready_ms": least_ms(lambda: SlipSearch(procedure), turns),
        "single_slips_ms": least_ms(alone.single_codes, turns),
        "single_slips_and_breakdowns_ms": least_ms(search.single_codes, turns),
        "double_slips_ms": least_ms(alone.pairs, turns),
    }


def least_ms(work: Callable[[], object], turns: int) -> float:
    """Shortest time of some work [ms]."""
    times = []
    for _ in range(turns):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return min(times) * 1e3


def demo_proofs(station: LoadedStation) -> dict[str, float]:
    """The demo kit proved, its shortest trace to a break, and a procedure proved again on save."""
    kit = station.kits["dipper"]
    sound = ground(kit).model(disciplined=True)
    proof = symbolic.prove(sound)
    broken = without_a_guard(sound)
    deep = with_a_far_rule(sound)
    sixty = nearest_to_sixty(station)
    return {
        "proof_states": float(proof.states),
        "proof_ms": least_ms(lambda: symbolic.prove(sound, counted=False), TURNS),
        "trace_acts": float(len(broken[1])),
        "trace_ms": least_ms(lambda: symbolic.prove(broken[0]), TURNS),
        "deep_trace_acts": float(symbolic.prove(deep).depth or 0),
        "deep_trace_ms": least_ms(lambda: symbolic.prove(deep), TURNS),
        **slips_of_sixty_steps(sixty),
    }


def nearest_to_sixty(station: LoadedStation) -> Procedure:
    """The demo procedure whose number of steps is nearest to 60."""
    every = [listed(code, station.procedures, station.kits) for code in station.procedures]
    return min((one.procedure for one in every), key=lambda p: abs(len(p.steps) - 60))


def with_a_far_rule(model: Model) -> Model:
    """The model with one more rule, which breaks only after a whole outing's dressing."""
    far = (("A.visor", "shut"), ("chiller", "on"), ("A.place", "away"), ("A.pack", "off"))
    bad = All(tuple(model.among(thing, state) for thing, state in far))
    return replace(model, rules=(*model.rules, Rule("far", bad)))


def without_a_guard(model: Model) -> tuple[Model, tuple[int, ...]]:
    """The model without one of some guards, the one whose shortest way to harm is longest."""
    found = []
    for number, action in enumerate(model.actions):
        if action.name.split(" ")[0] not in UNGUARDED:
            continue
        free = replace(action, guard=ALWAYS)
        actions = (*model.actions[:number], free, *model.actions[number + 1 :])
        mutant = replace(model, actions=actions)
        proof = symbolic.prove(mutant)
        if proof.broken is not None:
            found.append((mutant, proof.broken.trace))
    return max(found, key=lambda pair: len(pair[1]))


def frozen(model: Model, most: int) -> Model:
    """The model with as many things frozen, the last first, as brings it under so many states."""
    for keep in range(len(model.variables), 0, -1):
        kept = tuple(
            action
            for action in model.actions
            if all(variable < keep for variable, _ in action.effects)
        )
        smaller = replace(model, actions=kept)
        proof = symbolic.prove(smaller)
        if proof.verdict is Verdict.PROVED and proof.states <= most:
            return smaller
    raise RuntimeError("no part of the model is small enough")


def demo_against_spin(station: LoadedStation) -> dict[str, float]:
    """The compiled search beside spin, on the demo kit with some things frozen."""
    sound = ground(station.kits["dipper"]).model(disciplined=True)
    return explicit_against_spin(frozen(sound, 2_000_000))


def proved_again(folder: Path) -> dict[str, float]:
    """From a saved file of a station to the answer, as --watch does it [ms]."""
    file = folder / "procedures" / "dress.yaml"
    text = file.read_text(encoding="utf-8")
    times = []
    for turn in range(SLIP_TURNS):
        file.write_text(f"{text}# {turn}\n", encoding="utf-8")
        begun = time.perf_counter()
        station = load_station(folder)
        made = listed("dress", station.procedures, station.kits)
        examine(made, Asked(ways=False))
        times.append(time.perf_counter() - begun)
    file.write_text(text, encoding="utf-8")
    return {"reproof_ms": 1e3 * min(times[1:])}
