"""A Dask cluster gives the very same answer as this machine, whatever happens to its workers.

Scheduler and workers are real, each a process of its own, on free ports of this machine.
"""

from __future__ import annotations

import contextlib
import pickle
import signal
import socket
import sys
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from distributed import Client
from local_cluster import LocalCluster, local_cluster
from scenarios import DEMO, scenario_of

import neckring.station
from neckring import cluster
from neckring.cli import main
from neckring.cluster import TASKS_PER_THREAD, ClusterError, on_cluster
from neckring.outing.ensemble import PACE, Question, Task, compute, in_threads
from neckring.outing.gathered import Chunk, Gathered

CHUNK = 16
QUESTION = Question(scenario_of("yard-walk"), DEMO.limits, members=48)
# Two failures at two instants of the outing, one of the air and one of cooling.
WANTED = {code: frozenset({1500.0, 1980.0}) for code in ("fans", "pump")}
SOON = 1.0


def tasks_for(members: int, wanted: dict[str, frozenset[float]]) -> list[Task]:
    """Members of the yard walk in small chunks."""
    return [Task(QUESTION, first, first + CHUNK, wanted) for first in range(0, members, CHUNK)]


def gathered(chunks: Iterable[Chunk]) -> Gathered:
    """All chunks put together."""
    found = Gathered(QUESTION.reserves, PACE.beyond)
    found.add(chunks)
    return found


def assert_same_chunk(one: Chunk, other: Chunk) -> None:
    """Bit for bit."""
    assert one.first == other.first
    assert np.array_equal(one.reached, other.reached)
    assert list(one.clocks) == list(other.clocks)
    for code, clocks in one.clocks.items():
        assert_same_clocks(clocks, other.clocks[code])


def assert_same_clocks(one: object, other: object) -> None:
    """Bit for bit, every array of them."""
    assert one.instants == other.instants
    for name in ("runs", "harm", "help", "limit"):
        assert np.array_equal(getattr(one, name), getattr(other, name)), name


def assert_same(one: Gathered, other: Gathered) -> None:
    """Bit for bit, all that was gathered."""
    assert one.members == other.members
    for name in ("lost", "reached", "crossings"):
        assert np.array_equal(getattr(one, name), getattr(other, name)), name
    assert list(one.clocks) == list(other.clocks)
    for code, times in one.clocks.items():
        assert list(times) == list(other.clocks[code])
        for instant, clocks in times.items():
            assert_same_clocks(clocks, other.clocks[code][instant])


@pytest.fixture(scope="module")
def two_workers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LocalCluster]:
    """A scheduler with two workers, which no test harms."""
    with local_cluster(tmp_path_factory.mktemp("cluster")) as running:
        yield running


def test_a_task_that_was_sent_gives_the_same_chunk_as_one_that_stayed():
    task = Task(QUESTION, 0, CHUNK, WANTED)
    arrived = pickle.loads(pickle.dumps(task))
    assert arrived.question.scenario is not QUESTION.scenario
    assert_same_chunk(compute(arrived), compute(task))


def test_a_cluster_gathers_the_very_same_as_threads(two_workers):
    tasks = tasks_for(QUESTION.members, WANTED)
    with on_cluster(two_workers.address) as run:
        there = gathered(run(tasks))
    here = gathered(in_threads(2)(tasks))
    assert here.members == QUESTION.members
    assert np.isfinite(here.clocks["fans"][next(iter(here.clocks["fans"]))].harm).any()
    assert_same(there, here)


class Watched(Sequence[Task]):
    """Tasks that remember how many of them have been asked for."""

    def __init__(self, tasks: list[Task]) -> None:
        self.tasks = tasks
        self.asked = 0

    def __len__(self) -> int:
        return len(self.tasks)

    def __getitem__(self, place: int) -> Task:
        task = self.tasks[place]
        self.asked = max(self.asked, place + 1)
        return task


def test_only_a_bounded_number_of_tasks_is_under_way(two_workers):
    tasks = Watched(tasks_for(40 * CHUNK, {}))
    with on_cluster(two_workers.address) as run, Client(two_workers.address) as client:
        client.wait_for_workers(2)
        ahead, firsts = [], []
        for got, chunk in enumerate(run(tasks)):
            ahead.append(tasks.asked - got)
            firsts.append(chunk.first)
    assert firsts == [task.first for task in tasks.tasks]
    # One more is already in hand, waiting for room.
    assert max(ahead) <= 2 * TASKS_PER_THREAD + 1
    assert max(ahead) > TASKS_PER_THREAD


@pytest.fixture(scope="module")
def long_list() -> list[Task]:
    """Tasks that take some seconds, those with failures last."""
    return tasks_for(30 * CHUNK, {}) + tasks_for(QUESTION.members, WANTED)


@pytest.fixture(scope="module")
def computed_here(long_list: list[Task]) -> Gathered:
    """What this machine gathers from them."""
    return gathered(in_threads(2)(long_list))


def losing_a_worker(
    chunks: Iterable[Chunk], after: int, running: LocalCluster, lost: list[str]
) -> Iterator[Chunk]:
    """The same chunks; after so many of them a worker is killed with tasks in its hands."""
    for number, chunk in enumerate(chunks):
        if number == after:
            with Client(running.address, set_as_default=False) as client:
                client.wait_for_workers(2)
                workers = client.scheduler_info()["workers"]
                (place,) = (at for at, worker in workers.items() if str(worker["name"]) == "0")
                lost.extend(client.processing()[place])
            running.workers[0].send_signal(signal.SIGKILL)
            running.workers[0].wait()
        yield chunk


@pytest.mark.parametrize(
    "deaths_allowed", ["3", "0"], ids=["the scheduler sends again", "we send again"]
)
def test_a_worker_killed_in_the_middle_changes_nothing(
    tmp_path, deaths_allowed, long_list, computed_here
):
    # With none allowed the scheduler gives up each task of a lost worker.
    settings = {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": deaths_allowed}
    lost: list[str] = []
    with (
        local_cluster(tmp_path, for_scheduler=settings) as running,
        on_cluster(running.address) as run,
    ):
        there = gathered(losing_a_worker(run(long_list), 8, running, lost))
        assert running.workers[0].returncode == -signal.SIGKILL
        assert running.workers[1].poll() is None
    assert lost, "the worker had no task when it was killed"
    assert_same(there, computed_here)


def test_a_scheduler_that_dies_is_told_in_one_line(tmp_path):
    with local_cluster(tmp_path, workers=1) as running, on_cluster(running.address) as run:
        chunks = iter(run(tasks_for(200 * CHUNK, {})))
        next(chunks)
        running.scheduler.kill()
        with pytest.raises(ClusterError, match="lost contact with the cluster tcp://") as told:
            list(chunks)
    assert "\n" not in str(told.value)


def test_a_cluster_without_workers_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(cluster, "ANSWER_WITHIN", SOON)
    with (
        local_cluster(tmp_path, workers=0) as running,
        pytest.raises(ClusterError, match=f"no worker at the cluster {running.address} within 1 s"),
        on_cluster(running.address),
    ):
        pass


def test_a_worker_with_another_neckring_computes_nothing(two_workers, monkeypatch):
    monkeypatch.setattr(cluster, "sources_digest", lambda: "of other sources")
    with (
        on_cluster(two_workers.address) as run,
        pytest.raises(ClusterError, match="has another neckring; install the same neckring"),
    ):
        list(run(tasks_for(CHUNK, {})))


@pytest.mark.parametrize("where", ["for_scheduler", "for_workers"])
def test_a_cluster_without_neckring_is_told(tmp_path, where):
    # An empty package of the same name stands before the real one.
    (tmp_path / "neckring").mkdir()
    (tmp_path / "neckring" / "__init__.py").touch()
    settings = {where: {"PYTHONPATH": str(tmp_path)}}
    with (
        local_cluster(tmp_path, workers=1, **settings) as running,
        on_cluster(running.address) as run,
        pytest.raises(ClusterError, match="has no neckring; install the same neckring"),
    ):
        list(run(tasks_for(CHUNK, {})))


WRONG = (
    "127.0.0.1:8786",
    "tcp://",
    "tcp://127.0.0.1",
    "tcp://127.0.0.1:port",
    "tcp://127.0.0.1:99999",
    "tcp://127.0.0.1:0",
    "tcp://127.0.0.1:8786/path",
    "tcp://name@127.0.0.1:8786",
    "tls://127.0.0.1:8786",
    "TCP://127.0.0.1:8786",
    "tcp://127.0.0.1:8786\n",
    "",
)


@pytest.mark.parametrize("address", WRONG)
def test_what_is_no_address_is_refused(address):
    with (
        pytest.raises(ClusterError, match=r"no cluster has the address .*; accepted: tcp://host:p"),
        on_cluster(address),
    ):
        pass


def test_nobody_there_is_told_within_seconds(monkeypatch):
    monkeypatch.setattr(cluster, "ANSWER_WITHIN", SOON)
    # A port that is free, and one behind which somebody listens who never says a word.
    with contextlib.ExitStack() as open_ports:
        silent = open_ports.enter_context(socket.create_server(("127.0.0.1", 0)))
        with socket.create_server(("127.0.0.1", 0)) as free:
            ports = [free.getsockname()[1], silent.getsockname()[1]]
        for port in ports:
            address = f"tcp://127.0.0.1:{port}"
            with (
                pytest.raises(ClusterError, match=f"no cluster answers at {address} within 1 s"),
                on_cluster(address),
            ):
                pass


def test_a_missing_library_is_told_with_its_name(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with (
        pytest.raises(ClusterError, match=r"install neckring\[cluster\]"),
        on_cluster("tcp://127.0.0.1:8786"),
    ):
        pass


def test_the_command_refuses_a_wrong_address_in_one_line():
    demo = Path(neckring.station.__file__).parent / "demo"
    asked = ["plan", "yard-walk", "--station", str(demo), "--json", "--cluster", "yard:8786"]
    answer = CliRunner().invoke(main, asked)
    assert answer.exit_code == 2
    said = answer.stderr.splitlines()
    assert said[-1] == 'no cluster has the address "yard:8786"; accepted: tcp://host:port'
    assert not any("Traceback" in line for line in chain(said, answer.stdout.splitlines()))
