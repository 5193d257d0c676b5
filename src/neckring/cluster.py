"""Drawn members computed on a Dask cluster: the very same tasks as on this machine.

Only so many tasks are under way at once that neither this machine nor the scheduler holds more
of them for more members. A task depends on nothing but what is sent with it, so those of a lost
worker are simply computed again elsewhere.
"""

from __future__ import annotations

import asyncio
import hashlib
import json
import logging
import pickle
import socket
import time
import warnings
import zlib
from collections import deque
from collections.abc import Awaitable, Callable, Iterable, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

if TYPE_CHECKING:
    from distributed import Client, Future
    from distributed.comm.core import Comm

    from neckring.outing.ensemble import Runner, Task
    from neckring.outing.gathered import Chunk

# The scheduler must answer within this time, and so must its first worker [s].
ANSWER_WITHIN = 10.0
# A cluster that has no worker at all is given up after this time [s].
WORKERLESS_FOR = 60.0
# How often one looks whether there is still a worker while waiting for a result [s].
LOOK_EVERY = 5.0
CLOSE_WITHIN = 5.0
# Enough for no thread to idle while results travel.
TASKS_PER_THREAD = 4
# How often a task is sent anew after the scheduler itself has given it up. A task gets blamed for
# the death of a worker on which it only waited.
SENT_ANEW = 3

PACKAGE_FOLDER = Path(__file__).parent
# Libraries on which the last bit of an answer may depend.
COMPUTING_WITH = ("numba", "numpy", "scipy")

OTHER_NECKRING = "install the same neckring, with the same libraries, there as here"


class ClusterError(Exception):
    """A cluster cannot be used; its text is one line for the person who asked for it."""


@contextmanager
def on_cluster(address: str) -> Iterator[Runner]:
    """A runner on a Dask cluster, for as long as the context lasts.

    Args:
        address: Of the cluster's scheduler, as in tcp://host:8786.

    Raises:
        ClusterError: Library missing, address not understood, nobody there, or, while running,
            contact lost or another neckring on a worker.
    """
    _check_address(address)
    cluster = _Cluster(address, _connected(address))
    try:
        cluster.wait_for_worker()
        yield cluster.run
    finally:
        with suppress(OSError):
            close: Callable[..., None] = cluster.client.close
            close(timeout=CLOSE_WITHIN)


def computed(sent: bytes, sources: str) -> Chunk:
    """Compute a task where it has arrived.

    Args:
        sent: The pickled task, compressed, which the scheduler need not understand.
        sources: What `sources_digest` gives where it comes from.

    Raises:
        ClusterError: This machine would compute with another neckring.
    """
    if sources != sources_digest():
        place = socket.gethostname()
        raise ClusterError(f"the worker on {place} has another neckring; {OTHER_NECKRING}")
    from neckring.outing.ensemble import compute

    task: Task = pickle.loads(zlib.decompress(sent))
    return compute(task)


@cache
def sources_digest() -> str:
    """What this machine computes with: neckring's sources and the libraries under them."""
    digest = hashlib.sha256()
    for source in sorted(PACKAGE_FOLDER.rglob("*.py")):
        digest.update(source.relative_to(PACKAGE_FOLDER).as_posix().encode())
        digest.update(source.read_bytes())
    for library in COMPUTING_WITH:
        digest.update(f"{library} {version(library)}".encode())
    return digest.hexdigest()


def _check_address(address: str) -> None:
    try:
        parts = urlsplit(address)
        understood = parts.scheme == "tcp" and bool(parts.hostname) and bool(parts.port)
        bare = parts.netloc == address.removeprefix("tcp://") and "@" not in parts.netloc
    except ValueError:
        understood = bare = False
    if not (understood and bare):
        read = json.dumps(address, ensure_ascii=False)
        raise ClusterError(f"no cluster has the address {read}; accepted: tcp://host:port")


def _connected(address: str) -> Client:
    """A client of the cluster's scheduler."""
    try:
        import distributed
    except ImportError:
        raise ClusterError(
            "a cluster needs the library distributed, which is not installed here; "
            "install neckring[cluster]"
        ) from None
    _hush()
    opened: Callable[..., Client] = distributed.Client
    try:
        asyncio.run(asyncio.wait_for(_greeted(address), ANSWER_WITHIN))
        return opened(address, timeout=ANSWER_WITHIN, set_as_default=False)
    # Another server's words, read as a greeting, may ask for any size or number.
    except (OSError, ValueError, MemoryError, OverflowError):
        raise ClusterError(
            f"no cluster answers at {address} within {ANSWER_WITHIN:.0f} s; "
            "is its scheduler running, and reachable from here?"
        ) from None
    except ImportError:
        raise ClusterError(
            f"the cluster {address} has another version of distributed; {OTHER_NECKRING}"
        ) from None


async def _greeted(address: str) -> None:
    """Exchange the library's greeting with whoever listens.

    The library's client would wait for ever for one who listens and says nothing.
    """
    from distributed.comm.core import connect

    greet: Callable[..., Awaitable[Comm]] = connect
    connection = await greet(address, timeout=ANSWER_WITHIN)
    hang_up: Callable[[], None] = connection.abort
    hang_up()


def _hush() -> None:
    """Keep the library's own log off the person's terminal; what matters is a ClusterError.

    For good, not for a while: connections that end after us are told of as well.
    """
    for name in [*logging.root.manager.loggerDict, "distributed"]:
        if name.split(".")[0] in ("distributed", "tornado", "asyncio"):
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    warnings.filterwarnings("ignore", module="distributed")


@dataclass(frozen=True)
class _Cluster:
    """A cluster in use.

    Attributes:
        address: Of its scheduler.
        client: Of the library.
    """

    address: str
    client: Client

    def wait_for_worker(self) -> None:
        """Wait for the first worker, but not for long."""
        try:
            self.client.wait_for_workers(1, timeout=ANSWER_WITHIN)
        except TimeoutError:
            raise ClusterError(
                f"no worker at the cluster {self.address} within {ANSWER_WITHIN:.0f} s; "
                "start one there"
            ) from None

    def run(self, tasks: Sequence[Task]) -> Iterable[Chunk]:
        """Chunks in the order of their tasks, a bounded number of them under way."""
        waiting: deque[_Errand] = deque()
        for task in tasks:
            while len(waiting) >= self._room():
                yield waiting.popleft().chunk()
            waiting.append(_Errand(self, task))
        while waiting:
            yield waiting.popleft().chunk()

    def _room(self) -> int:
        """How many tasks may be under way with the workers there are just now."""
        return TASKS_PER_THREAD * max(1, self.threads())

    def threads(self) -> int:
        """Threads of all workers there are just now."""
        try:
            nthreads: Callable[[], dict[str, int]] = self.client.nthreads
            return sum(nthreads().values())
        except (OSError, ValueError):
            raise self.lost() from None

    def lost(self) -> ClusterError:
        """Nobody answers any more."""
        return ClusterError(f"lost contact with the cluster {self.address}; start again")

    def without_neckring(self) -> ClusterError:
        """What was sent means nothing there."""
        return ClusterError(f"the cluster {self.address} has no neckring; {OTHER_NECKRING}")


class _Errand:
    """A task that has been sent out and whose chunk is to be fetched."""

    def __init__(self, cluster: _Cluster, task: Task) -> None:
        self.cluster = cluster
        self.task = task
        self.future = self._sent()

    def _sent(self) -> Future[Chunk]:
        # Packed, since the scheduler remembers the last thousand messages to each worker. Not
        # pure in the library's words: it would look for a name in all of the content.
        sent = zlib.compress(pickle.dumps(self.task))
        submit: Callable[..., Future[Chunk]] = self.cluster.client.submit
        try:
            return submit(computed, sent, sources_digest(), pure=False)
        except OSError:
            raise self.cluster.lost() from None

    def chunk(self) -> Chunk:
        """The chunk, waited for; its task is sent anew when its workers were lost too often."""
        from distributed import KilledWorker

        for left in reversed(range(SENT_ANEW + 1)):
            try:
                return self._waited_for()
            except KilledWorker:
                if left:
                    self.future = self._sent()
        members = f"members {self.task.first} to {self.task.last - 1}"
        raise ClusterError(
            f"the cluster {self.cluster.address} loses every worker that computes {members}; "
            "have its workers enough memory?"
        )

    def _waited_for(self) -> Chunk:
        seen = time.monotonic()
        while True:
            try:
                chunk: Chunk = self.future.result(timeout=LOOK_EVERY)
            except TimeoutError:
                seen = self._worker_seen(seen)
            except CancelledError:
                raise self.cluster.lost() from None
            except (ImportError, RuntimeError) as problem:
                if _unread(problem):
                    raise self.cluster.without_neckring() from None
                raise
            else:
                return chunk

    def _worker_seen(self, seen: float) -> float:
        """When there last was a worker: now, or as before but not too long ago."""
        if self.cluster.threads():
            return time.monotonic()
        if time.monotonic() - seen > WORKERLESS_FOR:
            raise ClusterError(f"the cluster {self.cluster.address} has lost all its workers")
        return seen


def _unread(problem: Exception) -> bool:
    """Whether a worker or the scheduler could not even read the task."""
    return isinstance(problem, ImportError) or "deserialization" in str(problem)
