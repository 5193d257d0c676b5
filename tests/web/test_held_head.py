"""Each tablet holds the log's head: a log that was cut or changed behind its back is told there."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from chromium import BROWSER, NO_BROWSER, chromium
from demo_console import DemoConsole
from demo_day import LEAD
from served import Served
from test_in_a_browser import opened

from neckring.live.entries import Kind, Role

pytestmark = pytest.mark.skipif(not BROWSER.exists(), reason=NO_BROWSER)

HEAD = "Object.keys(localStorage).filter((key) => key.startsWith('neckring.head'))[0]"


@pytest.fixture(scope="module")
def page() -> Iterator[Any]:
    """A lead's page that has seen some entries."""
    console = DemoConsole()
    console.day.begin("dress")
    served = Served(console)
    with chromium() as browser:
        page = opened(browser, served, Role.LEAD, "/lead", (1280, 800))
        console.day.does(LEAD, Kind.NOTE, words="seen by this tablet")
        until(page, f"{HEAD} !== undefined")
        yield page
    served.stop()


def until(page: Any, holds: str) -> None:
    """Wait; the page's own policy forbids a script that would wait inside it."""
    for _ in range(200):
        if page.evaluate(holds):
            return
        page.wait_for_timeout(50)
    raise AssertionError(holds)


def held(page: Any) -> dict[str, Any]:
    return page.evaluate(f"JSON.parse(localStorage.getItem({HEAD}))")


def told_after(page: Any, **changed: Any) -> str:
    """What the page says once it comes back, had it held something else."""
    page.evaluate(
        f"(kept) => localStorage.setItem({HEAD}, JSON.stringify(kept))", held(page) | changed
    )
    page.reload()
    page.wait_for_selector("text=Link good")
    page.wait_for_timeout(500)
    place = page.locator("#told-head")
    return place.inner_text() if place.is_visible() else ""


def test_a_tablet_holds_the_head_and_says_nothing_while_all_is_well(page) -> None:
    kept = held(page)
    assert kept["number"] > 1
    assert len(kept["digest"]) == 64
    assert told_after(page) == ""


def test_an_entry_that_is_another_now_is_told(page) -> None:
    assert "was changed" in told_after(page, digest="0" * 64)


def test_entries_that_are_missing_at_the_end_are_told(page) -> None:
    kept = held(page)
    told = told_after(page, number=kept["number"] + 1000)
    assert "Entries are missing at the end of the log" in told
    assert str(kept["number"] + 1000) in told
