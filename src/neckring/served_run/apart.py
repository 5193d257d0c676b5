"""Computing done in a process of its own, so that no tap waits for its turn behind it."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, wait
from typing import ParamSpec, TypeVar

Given = ParamSpec("Given")
Found = TypeVar("Found")

ASK_EVERY = 0.2
"""How often who waits is asked whether to go on [s]."""
BEHIND = 5
"""Steps of priority that the process stands behind the console, where the system has such."""


class ApartError(Exception):
    """The process failed, or ended without an answer."""


def worked_out_apart(
    go_on: Callable[[], None],
    work: Callable[Given, Found],
    *given: Given.args,
    **named: Given.kwargs,
) -> Found:
    """Have something worked out in a process of its own, and wait for it.

    The process ends with this one, however this one ends, and when `go_on` raises.

    Args:
        go_on: Asked now and then; raises to leave it.
        work: A function that a new process can import.
        given: What it is given; goes there as a copy.
        named: The same, by name.

    Returns:
        A copy of what it returned.

    Raises:
        ApartError: It raised something itself, or its process was ended or could not be begun.
    """
    afresh = multiprocessing.get_context("spawn")
    here, there = afresh.Pipe()
    # What is given goes by the pipe: to start a process that dies at once with much that it is
    # given would wait for ever, since its end of that pipe is held open here.
    process = afresh.Process(target=_work, args=(there,), daemon=True)
    try:
        with _interrupts_held():
            process.start()
    except OSError as error:
        here.close()
        raise ApartError(f"no process can be begun: {error}") from None
    finally:
        there.close()
    try:
        here.send((work, given, named))
        while not here.poll(ASK_EVERY):
            go_on()
        went_well, found = here.recv()
    except (EOFError, ConnectionError):
        process.join()
        raise ApartError(f"its process ended with status {process.exitcode}") from None
    finally:
        process.kill()
        process.join()
        here.close()
    if not went_well:
        raise ApartError(found)
    return found  # type: ignore[no-any-return]


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """What is started here is not told of Ctrl-C, which a terminal tells to all it runs."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _work(line: Connection) -> None:
    threading.Thread(target=_end_with_parent, daemon=True).start()
    with suppress(AttributeError, OSError):
        os.nice(BEHIND)
    try:
        work, given, named = line.recv()
        found = (True, work(*given, **named))
    except Exception as error:
        found = (False, f"{type(error).__name__}: {error}")
    line.send(found)


def _end_with_parent() -> None:
    """End this process as soon as its parent is gone: nobody wants what it works out."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)
