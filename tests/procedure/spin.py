"""Runs the public model checker spin: breadth first, every state kept, nothing left out.

Neither bitstate hashing, which may miss states, nor partial-order reduction, which does on purpose.
How its figures compare with ours was found by running it, version 6.5.2:

- states: equal;
- transitions: ours + 1, its step into the start; when it is told to ignore assertions, each rule
  that breaks in a state is one more, since its line may then be done and changes nothing;
- depth reached: equal to our depth, which does not count the start;
- an error is reported "at depth" the number of actions before it; the trail has one line more, the
  assertion's own.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

from neckring.procedure.model import Model
from neckring.procedure.promela import promela

ABSENT = [tool for tool in ("spin", "gcc") if shutil.which(tool) is None]
WHY_SKIPPED = f"not installed: {', '.join(ABSENT)}"

# Without -o2 spin leaves out of a state what is written and never read, and finds fewer states.
WHOLE = ("-o1", "-o2", "-o3")
SEARCH = ("-DSAFETY", "-DNOREDUCE", "-DBFS")
# Words that say that a search was not whole although it may report no error.
INCOMPLETE = ("max search depth too small", "out of memory", "hash table too")
FIGURE = r"\d+(?:\.\d+)?(?:e\+\d+)?"
TEXT, VERIFIER = "model.pml", "pan"
LONGEST = 3600.0 if os.environ.get("NECKRING_SOAK") == "1" else 300.0
"""So long one run of it may take [s]."""
# Lines of the text before its first action, beside one for each variable.
LINES_BEFORE = 4


@dataclass(frozen=True)
class Answer:
    """What spin says of a model.

    Attributes:
        states: Stored.
        transitions: Stored and matched.
        depth: Reached.
        errors: How many; it ends at the first.
        error_depth: Actions before the error; None without one.
    """

    states: int
    transitions: int
    depth: int
    errors: int
    error_depth: int | None


class IncompleteSearchError(RuntimeError):
    """Spin gave up, so that its figures say nothing."""


def run(command: list[str], folder: Path) -> str:
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=LONGEST)
    said = done.stdout + done.stderr
    if done.returncode != 0:
        raise RuntimeError(f"{command[0]} ended with {done.returncode}: {said[:2000]}")
    return said


def build(model: Model, folder: Path, optimised: bool = False) -> None:
    """Write a model's text and compile its verifier.

    Optimising takes longer than a search of a small model does without, and changes no figure.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / TEXT).write_text(promela(model), encoding="ascii")
    run(["spin", *WHOLE, "-a", TEXT], folder)
    optimise = "-O2" if optimised else "-O0"
    run(["gcc", "-w", optimise, *SEARCH, "-o", VERIFIER, "pan.c"], folder)


def search(
    folder: Path, with_rules: bool = True, most_deep: int = 10_000, expected: int = 0
) -> Answer:
    """Run a compiled verifier.

    Args:
        folder: Where it is.
        with_rules: Whether it ends at the first broken rule, or goes on as if there were none.
        most_deep: Actions after which it gives up.
        expected: About so many states; a table of too few places for them only costs time.
    """
    rules = [] if with_rules else ["-A"]
    places = max(18, expected.bit_length())
    said = run([f"./{VERIFIER}", f"-w{places}", f"-m{most_deep}", *rules], folder)
    return parsed(said)


def parsed(said: str) -> Answer:
    """Figures of a search.

    Raises:
        IncompleteSearchError: when it was not whole, or its figures are not where they should be.
    """
    given_up = [words for words in INCOMPLETE if words in said]
    reached = re.search(r"depth reached (\d+), errors: (\d+)", said)
    stored = re.search(rf"^\s*({FIGURE}) states, stored$", said, re.MULTILINE)
    taken = re.search(rf"^\s*({FIGURE}) transitions \(= stored\+matched\)$", said, re.MULTILINE)
    if given_up or not (reached and stored and taken):
        raise IncompleteSearchError(f"{', '.join(given_up) or 'figures missing'}: {said[:2000]}")
    failed = re.search(r"assertion violated .*\(at depth (\d+)\)", said)
    depth, errors = (int(figure) for figure in reached.groups())
    if (errors > 0) != (failed is not None):
        raise IncompleteSearchError(f"{errors} errors, and not an assertion's: {said[:2000]}")
    at = int(failed[1]) if failed else None
    return Answer(int(float(stored[1])), int(float(taken[1])), depth, errors, at)


def as_printed(count: int) -> int:
    """A count as spin prints it: from a hundred million on to eight digits."""
    return int(float(f"{count:.8g}"))


def trail(model: Model, folder: Path) -> tuple[tuple[int, ...], int]:
    """Numbers of the actions of the trail found, and of the rule whose assertion then fails."""
    said = run(["spin", "-t", "-p", TEXT], folder)
    steps = re.findall(rf"^\s*(\d+):\s+proc .* {TEXT}:(\d+) \(state \d+\)\s+\[", said, re.MULTILINE)
    lines = {int(step): int(line) for step, line in steps}
    failed = re.search(rf"{TEXT}:(\d+), Error: assertion violated", said)
    if failed is None:
        raise RuntimeError(f"the trail breaks nothing: {said[:2000]}")
    first = LINES_BEFORE + len(model.variables) + 1
    options = [line - first for _, line in sorted(lines.items())]
    actions = len(model.actions)
    numbers = tuple(option for option in options if option < actions)
    return numbers, int(failed[1]) - first - actions
