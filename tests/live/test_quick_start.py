"""What makes a console quick to come back: nothing heavy is imported, nothing worked out twice."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from demo_day import DEMO, demo

from neckring.live.run_sheet import run_sheet
from neckring.live.uncaught_rules import KeptRules, uncaught_rules

RUNS = ("floor-survey", "floor-partner")
OPEN = """
import sys
from pathlib import Path
from neckring.served_run.opening import run_served
from neckring.served_run.shown import parts_of
from neckring.served_run.wanted import Wanted, settings_of
from neckring.web.app import make_app
wanted = Wanted(Path(sys.argv[1]), ("floor-survey", "floor-partner"), Path(sys.argv[2]))
with run_served(wanted) as s:
    make_app(parts_of(s), settings_of(s.wanted))
    print(*sorted({"numba", "scipy", "matplotlib", "ucumvert"} & set(sys.modules)))
"""


def heavy(kept: Path) -> list[str]:
    """Heavy libraries that a console has imported by the time at which it answers."""
    done = subprocess.run(
        [sys.executable, "-c", OPEN, str(DEMO), str(kept)],
        check=True,
        capture_output=True,
        text=True,
    )
    return done.stdout.split()


def test_a_console_that_comes_back_imports_nothing_heavy(tmp_path: Path) -> None:
    # Given a console that was started once, and then had to work out what it keeps
    assert "numba" in heavy(tmp_path / "kept")
    assert {"rules.json", "trees.json"} <= {path.name for path in (tmp_path / "kept").iterdir()}

    # When it comes back, then nothing heavy is imported before it answers
    assert heavy(tmp_path / "kept") == []


def test_rules_that_are_kept_are_the_rules_that_are_worked_out(tmp_path: Path) -> None:
    # Given a day whose rules were worked out and kept
    rules = KeptRules(tmp_path / "rules.json", "1")
    first = run_sheet(demo(), *RUNS, uncaught=rules.uncaught)
    rules.keep()

    # When the day is put together from the file, then its cautions are the same as without
    again = run_sheet(demo(), *RUNS, uncaught=KeptRules(rules.path, "1").uncaught)
    plain = run_sheet(demo(), *RUNS)
    for sheet in (first, again):
        for code, procedure in plain.procedures.items():
            assert sheet.procedures[code].steps == procedure.steps
        for card, procedure in plain.cards.items():
            assert sheet.cards[card].steps == procedure.steps
    assert any(step.caution for p in plain.procedures.values() for step in p.steps)


def test_a_file_of_rules_that_says_something_else_is_not_believed(tmp_path: Path) -> None:
    # Given a procedure, and files that are of another version, not whole, or name no rule
    listed = next(iter(run_sheet(demo(), *RUNS).procedures.values())).listed
    right, path = uncaught_rules(listed), tmp_path / "rules.json"
    for version, uncaught in (("0", {"d": []}), ("1", {"d": ["no such rule"]}), ("1", {"d": 7})):
        path.write_text(json.dumps({"version": version, "uncaught": uncaught}))

        # When they are asked, then the rules are worked out
        assert KeptRules(path, "1").uncaught(listed, "d") == right
    path.write_text("{")
    assert KeptRules(path, "1").uncaught(listed, "d") == right

    # And one that does name rules of the kit is taken at its word
    path.write_text(json.dumps({"version": "1", "uncaught": {"d": []}}))
    assert KeptRules(path, "1").uncaught(listed, "d") == frozenset()
