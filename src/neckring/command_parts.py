"""What the commands that compute share: reading or ending, telling, where to run, whole files."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

from neckring import whole_file

if TYPE_CHECKING:
    from neckring.outing.ensemble import Question, Runner
    from neckring.outing.findings import Plan
    from neckring.station.fault import StationFaults
    from neckring.station.kept_trees import KeptTrees, ReadTree
    from neckring.station.loading import LoadedStation

FOLDER = click.Path(path_type=Path, file_okay=False)
FILE = click.Path(path_type=Path, dir_okay=False)
USUAL_COMPILE_SECONDS = 30
KEPT = "kept"
"""Folder in a station for what is recorded beside it."""
TREES = "trees.json"
MEMBERS = 2000
EXIT_NOT_GO = 1
EXIT_WRONG_INPUT = 2
Command = TypeVar("Command", bound=Callable[..., Any])


station_option = click.option(
    "--station", "folder", type=FOLDER, default=Path("."), help="The station's folder."
)

_DRAWING = (
    click.option(
        "--members",
        type=click.IntRange(0, 10_000_000),
        default=MEMBERS,
        help=f"How many runs are drawn from the spreads [{MEMBERS}]; 0 takes it that nothing "
        "fails.",
    ),
    click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=1, help="Of the draw [1]."),
    click.option(
        "--workers",
        type=click.IntRange(1, 1024),
        default=os.cpu_count() or 1,
        help="Threads; the answer does not depend on it [all cores].",
    ),
    click.option("--cluster", default=None, help="Compute members there, as in tcp://host:8786."),
)


def drawing_options(command: Command) -> Command:
    """The options of how many members are drawn, and where they are computed."""
    for option in reversed(_DRAWING):
        command = option(command)
    return command


def load_or_exit(folder: Path, read_tree: ReadTree | None = None) -> LoadedStation:
    """Read a station, or print all its faults and end with status 2.

    Args:
        folder: Of the station.
        read_tree: Parses a file's text; None for the usual.
    """
    from neckring.station.fault import StationFaults
    from neckring.station.loading import load_station

    try:
        return load_station(folder, read_tree)
    except StationFaults as faults:
        tell_faults(faults)


def load_remembering(folder: Path, kept: Path) -> LoadedStation:
    """Read a station as `load_or_exit` does, parsing only what has changed since the last time.

    Args:
        folder: Of the station.
        kept: Where its parsed files are remembered; a folder that is not there costs time only.
    """
    trees = trees_in(kept)
    station = load_or_exit(folder, trees.tree_of)
    if kept.is_dir():
        keep_trees(trees)
    return station


def trees_in(kept: Path) -> KeptTrees:
    """A station's files as they were parsed the last time.

    Args:
        kept: The folder in which they are remembered.
    """
    from neckring import __version__
    from neckring.station.kept_trees import KeptTrees
    from neckring.station.loading import tree_of

    return KeptTrees(kept / TREES, __version__, tree_of)


def keep_trees(trees: KeptTrees) -> None:
    """Write down what was parsed anew; a disk that takes nothing makes the next start longer."""
    if trees.new:
        with suppress(OSError):
            whole_file.write_whole(trees.path, trees.text)


def refuse(words: str) -> NoReturn:
    """Say why, and end with status 2."""
    click.echo(words, err=True)
    sys.exit(EXIT_WRONG_INPUT)


def tell_faults(faults: StationFaults) -> NoReturn:
    """Print faults and end with status 2."""
    for fault in faults.faults:
        click.echo(str(fault), err=True)
    sys.exit(EXIT_WRONG_INPUT)


def refuse_code(kind: str, code: str, known: Iterable[str]) -> NoReturn:
    """Say that a run or a procedure does not exist and which ones do; end with status 2."""
    import difflib

    codes = sorted(known)
    near = difflib.get_close_matches(code, codes, 1)
    hint = f"; did you mean {near[0]}?" if near else ""
    accepted = ", ".join(codes) or f"none, as the station has no {kind}s yet"
    refuse(f'no {kind} has the code "{code}"; accepted: {accepted}{hint}')


def question_about(station: LoadedStation, run: str, members: int, seed: int) -> Question:
    """The question that a run of a station asks."""
    from neckring.outing.ensemble import Question
    from neckring.outing.scenario import Scenario
    from neckring.proved_help import with_proved_help

    chosen = station.runs[run]
    suit = station.suits[chosen.suit]
    scenario = Scenario(
        station=station.station,
        # Where nothing fails nobody asks for help.
        suit=with_proved_help(station, suit) if members else suit,
        wearer=station.wearers[chosen.wearer],
        run=chosen,
    )
    return Question(scenario, station.limits, members, seed)


def plan_ahead(
    question: Question, runner: Runner, workers: int, tell: Callable[[str], None]
) -> Plan:
    """A run's plan, with harm held against help when members are drawn."""
    from neckring.outing.look_ahead import look_ahead, with_outlook
    from neckring.outing.plan import make_plan

    made = make_plan(question.scenario, question.sheet)
    if not question.members:
        return made
    return with_outlook(made, look_ahead(question, runner, workers, tell), question.scenario)


@contextmanager
def runner_for(cluster: str | None, workers: int) -> Iterator[Runner]:
    """Where members are computed: on this machine's threads, or on a cluster."""
    if cluster is None:
        from neckring.outing.ensemble import in_threads

        yield in_threads(workers)
        return
    from neckring.cluster import ClusterError, on_cluster

    try:
        with on_cluster(cluster) as runner:
            yield runner
    except ClusterError as problem:
        refuse(str(problem))


def compile_first(question: Question) -> None:
    """Compile the model when this machine has not, telling so and how long it took.

    Args:
        question: Computed once with nothing failing: that compiles all there is.
    """
    from neckring.compiled import is_compiled

    if is_compiled():
        return
    from rich.console import Console

    console = Console(stderr=True)
    words = f"compiling the model for this machine, once; about {USUAL_COMPILE_SECONDS} s"
    begun = time.monotonic()
    if console.is_terminal:
        with console.status(words):
            _use_every_kernel(question)
    else:
        click.echo(f"{words} ...", err=True)
        _use_every_kernel(question)
    click.echo(f"compiled in {time.monotonic() - begun:.0f} s", err=True)


def _use_every_kernel(question: Question) -> None:
    from neckring.outing.plan import simulate
    from neckring.outing.spells import STEP
    from neckring.outing.trunk import run_trunk

    simulate(question.scenario)
    run_trunk(question.scenario, question.sheet, frozenset(), STEP)


@contextmanager
def progress(quiet: bool) -> Iterator[Callable[[str], None]]:
    """Tell on the error stream what is being done: one changing line, or a line each."""
    if quiet:
        yield lambda _: None
        return
    from rich.console import Console

    console = Console(stderr=True)
    if not console.is_terminal:
        yield lambda words: click.echo(f"{words} ...", err=True)
        return
    with console.status("reading") as status:
        yield status.update


def write_whole(path: Path, text: str) -> None:
    """Write a file so that it is either the old or the whole new one, or end with status 2."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        whole_file.write_whole(path, text, whole_file.SHARED)
    except OSError as problem:
        refuse(f"{path}: cannot write the report: {problem.strerror}")
