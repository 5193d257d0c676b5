"""The record of how neckring compares with the outside world, written to docs/validation.md.

Every check names its published source. The page is rewritten only by a run of this whole folder,
and holds nothing that changes from one run or machine to the next.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent
PAGE = FOLDER.parents[1] / "docs" / "validation.md"

AREAS = {
    "body": "Body: heat and temperatures",
    "work": "Work: metabolic rate",
    "breath": "Breath: gas exchange",
    "garment": "Cooling garment",
    "loop": "Water loop",
    "reservoir": "Reservoir",
    "air": "Helmet air and ventilation",
    "power": "Power",
    "load": "Load and body measures",
    "properties": "Properties of water and air",
    "sensitivity": "Sensitivity: which doubt carries how much",
    "harm clock": "Harm clock: from a failure to the first limit",
    "tolerance times": "Tolerance times: how long people lasted in closed and heavy suits",
    "searches": "Searches: puzzles whose answers have long been known",
    "human error": "Human error: published probabilities and their arithmetic",
    "step timing": "Step times: sums, practice, the later of two",
    "letters": "Letters on paper: how high for which distance",
    "people": "People: strain, task load, recovery, days",
}
KINDS = {
    "published": "a value printed in the source named",
    "reference library": "an independent public program, run or quoted for the same case",
    "identity": "an exact result of the stated equation or law, worked out apart from the code",
    "practice": "what people who do the work have found or laid down",
    "from memory": "the source is named but was not opened again when the check was written",
}


@dataclass(frozen=True)
class Check:
    """One comparison with the outside world."""

    area: str
    name: str
    source: str
    kind: str
    unit: str
    accepted: str
    obtained: float
    agrees: bool
    informative: bool

    @property
    def verdict(self) -> str:
        """Word for the table."""
        word = "agrees" if self.agrees else "disagrees"
        return f"{word} (informative)" if self.informative else word


class Record:
    """All checks of a session, and the tests that were broken instead of compared."""

    def __init__(self) -> None:
        self.checks: dict[tuple[str, str], Check] = {}
        self.incomplete: list[str] = []
        self.ran: set[str] = set()

    def add(self, check: Check) -> None:
        """Keep a check; two may not have the same area and name."""
        if check.area not in AREAS or check.kind not in KINDS:
            raise ValueError(f"unknown area or kind: {check.area!r}, {check.kind!r}")
        if (check.area, check.name) in self.checks:
            raise ValueError(f"two checks are called {check.name!r} in {check.area!r}")
        self.checks[check.area, check.name] = check

    def disagreeing(self) -> int:
        """How many binding checks disagree."""
        return sum(not (c.agrees or c.informative) for c in self.checks.values())


RECORD = pytest.StashKey[Record]()


def pytest_configure(config: pytest.Config) -> None:
    config.stash[RECORD] = Record()


def number(value: float) -> str:
    return f"{value:.4g}"


def judge(
    obtained: float,
    expected: float | None,
    tolerance: float | None,
    relative: bool,
    low: float | None,
    high: float | None,
) -> tuple[bool, str]:
    """Whether a value is accepted, and what would be, in words."""
    if expected is not None:
        if tolerance is None or low is not None or high is not None:
            raise ValueError("give `expected` with `tolerance`, or `low` and `high`")
        room = tolerance * abs(expected) if relative else tolerance
        spread = f"{number(100 * tolerance)} %" if relative else number(tolerance)
        return abs(obtained - expected) <= room, f"{number(expected)} ± {spread}"
    if low is None and high is None:
        raise ValueError("a check needs `expected`, `low` or `high`")
    bottom, top = -math.inf if low is None else low, math.inf if high is None else high
    words = {
        (True, True): f"{number(bottom)} to {number(top)}",
        (True, False): f"at least {number(bottom)}",
        (False, True): f"at most {number(top)}",
    }
    return bottom <= obtained <= top, words[low is not None, high is not None]


@pytest.fixture
def outside_check(request: pytest.FixtureRequest) -> Callable[..., None]:
    """Compare a value with the outside world, record the comparison, fail when it disagrees."""
    record = request.config.stash[RECORD]

    def compare(
        *,
        area: str,
        name: str,
        source: str,
        obtained: float,
        kind: str,
        unit: str = "1",
        expected: float | None = None,
        tolerance: float | None = None,
        relative: bool = False,
        low: float | None = None,
        high: float | None = None,
        informative: bool = False,
    ) -> None:
        obtained = float(obtained)
        agrees, accepted = judge(obtained, expected, tolerance, relative, low, high)
        check = Check(area, name, source, kind, unit, accepted, obtained, agrees, informative)
        record.add(check)
        assert agrees or informative, f"{name}: {obtained:g} {unit}, accepted {accepted} [{source}]"

    return compare


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]):
    """Remember tests of this folder that did not come to a comparison."""
    report = yield
    record = item.config.stash[RECORD]
    record.ran.add(item.nodeid)
    disagrees = any(not c.agrees and not c.informative for c in record.checks.values())
    if item.path.parent == FOLDER and (report.skipped or (report.failed and not disagrees)):
        record.incomplete.append(item.nodeid)
    return report


def pytest_deselected(items: Iterable[pytest.Item]) -> None:
    for item in items:
        if item.path.parent == FOLDER:
            item.config.stash[RECORD].incomplete.append(item.nodeid)


def whole_folder_ran(session: pytest.Session) -> bool:
    """Whether every test of this folder was asked for and ran to its end, in this process."""
    own = {item.nodeid for item in session.items if item.path.parent == FOLDER}
    if not own <= session.config.stash[RECORD].ran:
        return False
    chosen = any("::" in argument for argument in session.config.args)
    collected = {item.path.name for item in session.items if item.path.parent == FOLDER}
    wanted = {path.name for path in FOLDER.glob("test_*.py")}
    finished = session.exitstatus in (pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED)
    return collected == wanted and finished and not chosen and not session.config.option.collectonly


def pytest_sessionfinish(session: pytest.Session) -> None:
    record = session.config.stash[RECORD]
    if whole_folder_ran(session) and not record.incomplete:
        PAGE.parent.mkdir(exist_ok=True)
        PAGE.write_text(page(record.checks.values()), encoding="utf-8")


def page(checks: Iterable[Check]) -> str:
    """The whole page; the order is that of areas, then of names."""
    ordered = sorted(checks, key=lambda check: (list(AREAS).index(check.area), check.name))
    binding = [check for check in ordered if not check.informative]
    agreeing = sum(check.agrees for check in binding)
    parts = [
        "# Comparison with the outside world",
        "",
        "Written by `pytest tests/validation`; do not edit. Each row compares a value that "
        "neckring computes with one from outside, and names the source.",
        f"{agreeing} of {len(binding)} checks agree; {len(ordered) - len(binding)} more are shown "
        "for information and may disagree.",
        "Nothing here clears anyone to enter a suit.",
        "",
        *(f"- **{kind}**: {meaning}." for kind, meaning in KINDS.items()),
        "",
    ]
    for area, title in AREAS.items():
        parts += table(title, [check for check in ordered if check.area == area])
    return "\n".join(parts)


def table(title: str, checks: list[Check]) -> list[str]:
    """Rows of one area, or nothing."""
    if not checks:
        return []
    rows = [
        f"| {cell(c.name)} | {c.accepted} | {number(c.obtained)} | {cell(c.unit)} | {c.verdict} "
        f"| {c.kind} | {cell(c.source)} |"
        for c in checks
    ]
    heading = "| Check | Accepted | Obtained | Unit | Verdict | Kind | Source |"
    return [f"## {title} ({len(checks)})", "", heading, "|---|---|---|---|---|---|---|", *rows, ""]


def cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")
