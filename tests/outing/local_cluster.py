"""A real Dask cluster on this machine: a scheduler and its workers, each a process of its own."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

HERE = "127.0.0.1"
NOTHING: Mapping[str, str] = MappingProxyType({})
STARTED_WITHIN = 60.0
STOPPED_WITHIN = 10.0


@dataclass(frozen=True)
class LocalCluster:
    """A cluster that runs.

    Attributes:
        address: Of its scheduler.
        scheduler: Its process.
        workers: Theirs, one thread each.
    """

    address: str
    scheduler: subprocess.Popen[bytes]
    workers: tuple[subprocess.Popen[bytes], ...]


@contextmanager
def local_cluster(
    folder: Path,
    workers: int = 2,
    for_scheduler: Mapping[str, str] = NOTHING,
    for_workers: Mapping[str, str] = NOTHING,
) -> Iterator[LocalCluster]:
    """Start a scheduler and workers on free ports of this machine; stop them afterwards.

    Args:
        folder: Where they keep their files and logs.
        workers: How many, one thread each; named 0, 1, ...
        for_scheduler: Variables of its environment.
        for_workers: Of theirs.
    """
    whereabouts = folder / "scheduler.json"
    known = ["--scheduler-file", str(whereabouts), "--host", HERE]
    # Its web page is left out, but the port of that would still be open to all.
    known += ["--no-dashboard", "--dashboard-address", f"{HERE}:0"]
    # A worker would keep an hour of its own call stacks, some tens of kilobytes a second.
    settings = {"DASK_DISTRIBUTED__WORKER__PROFILE__ENABLED": "False", **for_workers}
    with ExitStack() as running:
        scheduler = running.enter_context(
            _process(folder, "scheduler", [*known, "--port", "0"], for_scheduler)
        )
        address = _address(whereabouts, scheduler)
        alone = ["--nthreads", "1", "--no-nanny", "--memory-limit", "0", "--death-timeout", "60"]
        alone += ["--local-directory", str(folder)]
        started = [
            running.enter_context(
                _process(folder, "worker", [*known, *alone, "--name", str(number)], settings)
            )
            for number in range(workers)
        ]
        yield LocalCluster(address, scheduler, tuple(started))


@contextmanager
def _process(
    folder: Path, kind: str, options: Sequence[str], settings: Mapping[str, str]
) -> Iterator[subprocess.Popen[bytes]]:
    command = [sys.executable, "-m", f"distributed.cli.dask_{kind}", *options]
    with (folder / f"{kind}.log").open("ab") as log:
        process = subprocess.Popen(
            command, cwd=folder, env={**os.environ, **settings}, stdout=log, stderr=log
        )
    try:
        yield process
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(STOPPED_WITHIN)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _address(whereabouts: Path, scheduler: subprocess.Popen[bytes]) -> str:
    """The scheduler's address, as soon as it has written it down."""
    deadline = time.monotonic() + STARTED_WITHIN
    while time.monotonic() < deadline and scheduler.poll() is None:
        try:
            return str(json.loads(whereabouts.read_text(encoding="utf-8"))["address"])
        except (FileNotFoundError, json.JSONDecodeError):
            time.sleep(0.05)
    raise RuntimeError(f"no scheduler: see scheduler.log in {whereabouts.parent}")


def memory(process: int, name: str = "VmRSS") -> float:
    """Resident memory of a process [bytes], by its number: now, or with VmHWM its peak so far."""
    for line in Path(f"/proc/{process}/status").read_text(encoding="utf-8").splitlines():
        if line.startswith(f"{name}:"):
            return 1024.0 * int(line.split()[1])
    raise ValueError(f"process {process} tells no {name}")
