"""A page opened in a real browser from its file, and what holds for every page of the house."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

sys.path.append(str(Path(__file__).parents[1] / "web"))

from chromium import BROWSER, NO_BROWSER, chromium

WIDTHS = (1280, 1024, 800, 600, 390)
IN_A_BROWSER = pytest.mark.skipif(not BROWSER.exists(), reason=NO_BROWSER)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as started:
        yield started


@contextmanager
def opened_page(
    browser: Any, html: str, folder: Path
) -> Iterator[tuple[Any, list[str], list[str]]]:
    """The tab, what it said, and what it asked for."""
    path = folder / "page.html"
    path.write_text(html, encoding="utf-8")
    tab = browser.new_page(viewport={"width": 1280, "height": 900})
    said: list[str] = []
    asked: list[str] = []
    tab.on("console", lambda message: said.append(message.text))
    tab.on("pageerror", lambda error: said.append(str(error)))
    tab.on("request", lambda request: asked.append(request.url))
    tab.goto(path.as_uri())
    yield tab, said, asked
    tab.close()


def assert_silent(opened: tuple[Any, list[str], list[str]]) -> None:
    """Nothing in the console, and nothing asked for but the page itself."""
    tab, said, asked = opened
    tab.wait_for_load_state("networkidle")
    assert said == []
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert len([url for url in asked if url.startswith("file:")]) == 1


def assert_within(tab: Any, width: int) -> None:
    """The page does not scroll sideways."""
    tab.set_viewport_size({"width": width, "height": 900})
    assert tab.evaluate("document.documentElement.scrollWidth") <= width


def boxes_that_scroll(tab: Any) -> list[str]:
    """Boxes that hold more than they show on a tablet: the beginning of each."""
    tab.set_viewport_size({"width": 800, "height": 900})
    hidden = "[...document.querySelectorAll('.scroll')].filter(e => e.scrollWidth > e.clientWidth)"
    found: list[str] = tab.evaluate(f"{hidden}.map(e => e.innerText.slice(0, 40))")
    return found


def texts_cut_off(tab: Any) -> list[str]:
    """Texts of pictures that reach beyond them."""
    tab.set_viewport_size({"width": 1280, "height": 900})
    found: list[str] = tab.evaluate(
        """[...document.querySelectorAll('svg.picture text')].filter(text => {
            const a = text.getBoundingClientRect();
            const b = text.closest('svg').getBoundingClientRect();
            return a.left < b.left - 1 || a.right > b.right + 1 ||
                a.top < b.top - 1 || a.bottom > b.bottom + 1;
        }).map(text => text.textContent)"""
    )
    return found


def a4_pages(tab: Any) -> int:
    """How many pages it prints on; all of A4 (ISO 216: 210 mm by 297 mm)."""
    document = tab.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", document)
    for width, height in boxes:
        assert float(width) == pytest.approx(595.3, abs=1.5)
        assert float(height) == pytest.approx(841.9, abs=1.5)
    return len(boxes)
