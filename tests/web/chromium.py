"""A real browser for the pages: Debian's Chromium by Playwright, and axe-core's findings in it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
BROWSER = Path(os.environ.get("NECKRING_BROWSER", "/usr/bin/chromium"))
NO_BROWSER = f"no browser at {BROWSER}"
HOUSE = Path(__file__).parents[2]
AXE = HOUSE / "build" / "browser" / "node_modules" / "axe-core" / "axe.min.js"
SCREENS = HOUSE / "build" / "screens"
SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
]


@contextmanager
def chromium() -> Iterator[Any]:
    """The browser, started and closed."""
    with playwright.sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=str(BROWSER), args=SWITCHES)
        yield started
        started.close()


def violations(page: Any) -> list[str]:
    """What axe-core finds; its source is handed over, since the page's policy lets none in."""
    page.evaluate(f"() => {{ {AXE.read_text(encoding='utf-8')} }}")
    found = page.evaluate("() => axe.run(document, {resultTypes: ['violations']})")
    assert len(found["passes"]) > 10
    return [
        f"{each['id']}: {node['html'][:120]} {node['failureSummary'][:200]}"
        for each in found["violations"]
        for node in each["nodes"][:3]
    ]


def photographed(page: Any, title: str) -> None:
    """Keep a picture, to be looked at."""
    SCREENS.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=SCREENS / f"{title}.png")
