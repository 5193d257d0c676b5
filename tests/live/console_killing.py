"""Kills a whole console again and again while its devices tap: run as a program, since it forks.

console_killing.py STATION KEPT PORT SEED KILLS: the first console lives until a line is read from
the input, so that devices can pair; then it is killed. Of the others half are killed from outside
at any instant, while they open too; half strike between the commit and the reply. The last one
stays until the input ends, and is then ended as by Ctrl-C.
"""

from __future__ import annotations

import importlib
import os
import signal
import sys
import time
from pathlib import Path
from random import Random

from book_killing import die_between_commit_and_reply

from neckring.served_run.serving import serve
from neckring.served_run.wanted import Wanted

LONGEST_LIFE = 1.5
"""Before the kill from outside [s], from the fork on."""
LONGEST_WAIT = 60.0
"""For a console that kills itself at a commit [s]."""
READY = (
    "neckring.web.app",
    "neckring.live.desk",
    "neckring.live.sqlite_book",
    "neckring.live.readings_store",
    "neckring.live.alarm_watch",
    "neckring.live.estimating",
    "neckring.proved_help",
)
"""Imported once, before the first fork: what is shown here is not how long imports take."""


def console(wanted: Wanted, chance: Random | None) -> int:
    """Fork a console; with `chance` it kills itself."""
    process = os.fork()
    if not process:
        try:
            if chance is not None:
                die_between_commit_and_reply(chance)
            serve(wanted)
            os._exit(0)
        finally:
            os._exit(1)
    return process


def killed(process: int, after: float) -> None:
    """Kill from outside after a while, unless it has killed itself; anything else is a fault."""
    end = time.monotonic() + after
    while time.monotonic() < end:
        if (ended := os.waitpid(process, os.WNOHANG))[0]:
            break
        time.sleep(0.002)
    else:
        os.kill(process, signal.SIGKILL)
        ended = os.waitpid(process, 0)
    if not os.WIFSIGNALED(ended[1]):
        sys.exit("a console ended by itself before it was killed")


def main() -> None:
    wanted = Wanted(
        Path(sys.argv[1]),
        ("floor-survey", "floor-partner"),
        Path(sys.argv[2]),
        port=int(sys.argv[3]),
        particles=0,
    )
    seed, kills = sys.argv[4], int(sys.argv[5])
    for name in READY:
        importlib.import_module(name)
    chance = Random(seed)
    first = console(wanted, None)
    sys.stdin.readline()
    killed(first, chance.uniform(0.2, LONGEST_LIFE))
    for kill in range(1, kills):
        by_itself = kill % 2 == 1
        process = console(wanted, Random(f"{seed} {kill}") if by_itself else None)
        killed(process, LONGEST_WAIT if by_itself else chance.uniform(0.0, LONGEST_LIFE))
    last = console(wanted, None)
    print("last", flush=True)
    sys.stdin.read()
    os.kill(last, signal.SIGINT)
    _, status = os.waitpid(last, 0)
    sys.exit(os.waitstatus_to_exitcode(status))


if __name__ == "__main__":
    main()
