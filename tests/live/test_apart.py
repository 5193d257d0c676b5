"""What is worked out in a process of its own comes back, or is told of, and ends with who asked."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from console_here import wanted
from demo_day import demo

from neckring.live.watchkeeping import EndingError
from neckring.served_run.apart import ApartError, worked_out_apart
from neckring.served_run.making_ready import planned_beside, planned_day
from neckring.served_run.opening import run_served

ASKS_FROM_AFAR = """
import time
from neckring.served_run.apart import worked_out_apart
if __name__ == "__main__":
    worked_out_apart(lambda: print("waiting", flush=True), time.sleep, 600.0)
"""
BEGINS_AGAIN = """
from neckring.served_run.apart import ApartError, worked_out_apart
try:
    worked_out_apart(lambda: None, len, bytes(10_000_000))
except ApartError as error:
    print("told:", error)
"""


def go_on() -> None:
    """Whoever waits goes on waiting."""


def is_alive(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state != "Z"


def children_of(process: int) -> list[int]:
    found = Path(f"/proc/{process}/task/{process}/children").read_text().split()
    commands = {int(child): Path(f"/proc/{child}/cmdline").read_text() for child in found}
    return [child for child, command in commands.items() if "resource_tracker" not in command]


def test_what_is_worked_out_apart_is_what_would_be_worked_out_here() -> None:
    # Given a run of the demo
    day = {"A": "floor-survey"}

    # When its plan is worked out in a process of its own
    scenarios, planned = worked_out_apart(go_on, planned_day, demo(), day, 1)

    # Then it is the same as when worked out here
    scenarios_here, planned_here = planned_day(demo(), day, 1)
    assert planned == planned_here
    assert set(planned) == set(day)
    found, here = scenarios["A"], scenarios_here["A"]
    assert (found.station, found.suit, found.wearer, found.run) == (
        here.station,
        here.suit,
        here.wearer,
        here.run,
    )
    assert found.suit.help is not demo().suits[found.run.suit].help


def test_it_is_a_process_of_its_own() -> None:
    assert worked_out_apart(go_on, os.getpid) != os.getpid()


def test_a_failure_there_is_told_here_in_its_words() -> None:
    with pytest.raises(ApartError, match=r"ValueError: .* 'no number'"):
        worked_out_apart(go_on, int, "no number")


def test_a_process_that_is_killed_is_told_of_with_its_status() -> None:
    with pytest.raises(ApartError, match="ended with status 9"):
        worked_out_apart(go_on, os._exit, 9)


def test_a_process_that_cannot_even_begin_is_told_of(tmp_path: Path) -> None:
    # Given a program that a second process cannot read without beginning it again, and much to give
    script = tmp_path / "asks.py"
    script.write_text(BEGINS_AGAIN)

    # When it asks
    asked = subprocess.run(
        [sys.executable, str(script)], capture_output=True, text=True, timeout=60.0, check=True
    )

    # Then it is told so, and waits for nothing
    assert asked.stdout == "told: its process ended with status 1\n"


def test_where_no_process_can_be_begun_the_console_plans_by_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Given a console on a machine that begins no more processes
    def none_left(*_given: object) -> int:
        raise OSError(errno.EAGAIN, os.strerror(errno.EAGAIN))

    monkeypatch.setattr("multiprocessing.util.spawnv_passfds", none_left)
    told: list[str] = []

    # When its plans are made ready
    with run_served(wanted(tmp_path / "kept")) as served:
        scenarios, planned = planned_beside(served, told.append)

    # Then it makes them itself, and says so
    assert set(scenarios) == set(planned) == {"A", "B"}
    (words,) = told
    assert "no process can be begun" in words


def test_who_ends_while_it_is_worked_out_does_not_wait_for_it() -> None:
    # Given work that takes ten minutes, and a console that ends at once
    def ends() -> None:
        raise EndingError

    # When it is asked whether to go on
    begun = time.monotonic()
    with pytest.raises(EndingError):
        worked_out_apart(ends, time.sleep, 600.0)

    # Then it is left, and its process is gone
    assert time.monotonic() - begun < 10.0
    assert not children_of(os.getpid())


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_it_ends_with_a_console_that_is_killed(tmp_path: Path, how: signal.Signals) -> None:
    # Given a process that has something worked out which takes ten minutes
    script = tmp_path / "asks.py"
    script.write_text(ASKS_FROM_AFAR)
    asking = subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True)
    assert asking.stdout is not None
    asking.stdout.readline()
    (working,) = children_of(asking.pid)

    # When it is killed
    asking.send_signal(how)
    asking.wait(10.0)

    # Then what works for it ends too
    until = time.monotonic() + 10.0
    while is_alive(working) and time.monotonic() < until:
        time.sleep(0.05)
    assert not is_alive(working)


def test_ctrl_c_in_a_terminal_is_for_the_console_only(tmp_path: Path) -> None:
    # Given a process that has something worked out, and a terminal that tells both of Ctrl-C
    script = tmp_path / "asks.py"
    script.write_text(ASKS_FROM_AFAR)
    asking = subprocess.Popen(
        [sys.executable, str(script)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert asking.stdout is not None
    asking.stdout.readline()

    # When the keys are pressed
    os.killpg(asking.pid, signal.SIGINT)
    _, told = asking.communicate(timeout=10.0)

    # Then only who asked says that it was interrupted
    assert told.count("KeyboardInterrupt") == 1
