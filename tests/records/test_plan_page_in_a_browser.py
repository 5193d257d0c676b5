"""The page in a real browser: silent, still, within its width, and printable."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from neckring.outing.findings import Plan
from neckring.records.compare_page import render_comparison
from neckring.records.plan_page import render_page

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
BROWSER = Path(os.environ.get("NECKRING_BROWSER", "/usr/bin/chromium"))
pytestmark = pytest.mark.skipif(not BROWSER.exists(), reason=f"no browser at {BROWSER}")


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    switches = [
        "--no-sandbox",
        "--disable-gpu",
        "--no-first-run",
        "--disable-background-networking",
    ]
    with playwright.sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=str(BROWSER), args=switches)
        yield started
        started.close()


@pytest.fixture(scope="module", params=["plan", "plan that looks ahead", "comparison"])
def opened(
    request: pytest.FixtureRequest,
    browser: Any,
    shorten: Plan,
    ahead: Plan,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[tuple[Any, list[str], list[str]]]:
    path = tmp_path_factory.mktemp("page") / "page.html"
    pages = {
        "plan": lambda: render_page(shorten),
        "plan that looks ahead": lambda: render_page(ahead),
        "comparison": lambda: render_comparison([("bench", ahead), ("the same, not", shorten)]),
    }
    path.write_text(pages[request.param](), encoding="utf-8")
    tab = browser.new_page(viewport={"width": 1280, "height": 900})
    said: list[str] = []
    asked: list[str] = []
    tab.on("console", lambda message: said.append(message.text))
    tab.on("pageerror", lambda error: said.append(str(error)))
    tab.on("request", lambda request: asked.append(request.url))
    tab.goto(path.as_uri())
    yield tab, said, asked
    tab.close()


def test_it_says_nothing_in_the_console_and_asks_the_network_for_nothing(opened: Any) -> None:
    tab, said, asked = opened
    tab.wait_for_load_state("networkidle")
    assert said == []
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert len([url for url in asked if url.startswith("file:")]) == 1


def test_its_style_is_in_force_under_its_own_policy(opened: Any) -> None:
    tab, _, _ = opened
    assert tab.evaluate("getComputedStyle(document.querySelector('figure')).display") == "grid"


@pytest.mark.parametrize("width", [1280, 1024, 800, 600, 390])
def test_it_never_scrolls_sideways(opened: Any, width: int) -> None:
    tab, _, _ = opened
    tab.set_viewport_size({"width": width, "height": 900})
    assert tab.evaluate("document.documentElement.scrollWidth") <= width


def test_on_a_tablet_tables_and_pictures_fit_without_scrolling_in_their_boxes(opened: Any) -> None:
    tab, _, _ = opened
    tab.set_viewport_size({"width": 800, "height": 900})
    hidden = "[...document.querySelectorAll('.scroll')].filter(e => e.scrollWidth > e.clientWidth)"
    assert tab.evaluate(f"{hidden}.map(e => e.innerText.slice(0, 40))") == []


def test_no_text_of_a_picture_is_cut_off(opened: Any) -> None:
    tab, _, _ = opened
    tab.set_viewport_size({"width": 1280, "height": 900})
    cut = tab.evaluate(
        """[...document.querySelectorAll('svg.picture text')].filter(text => {
            const a = text.getBoundingClientRect();
            const b = text.closest('svg').getBoundingClientRect();
            return a.left < b.left - 1 || a.right > b.right + 1 ||
                a.top < b.top - 1 || a.bottom > b.bottom + 1;
        }).map(text => text.textContent)"""
    )
    assert cut == []


def test_labels_at_the_right_do_not_overlap(opened: Any) -> None:
    tab, _, _ = opened
    overlapping = tab.evaluate(
        """[...document.querySelectorAll('svg.picture')].flatMap(svg => {
            const edge = svg.getBoundingClientRect();
            const boxes = [...svg.querySelectorAll('text')]
                .map(t => [t.getBoundingClientRect(), t.textContent])
                .filter(([b]) => b.left > edge.left + 0.75 * edge.width)
                .sort((a, b) => a[0].top - b[0].top);
            return boxes.slice(1).filter(([b], i) => b.top < boxes[i][0].bottom - 3.5)
                .map(([b, text]) => text);
        })"""
    )
    assert overlapping == []


def test_it_prints_on_a_sane_number_of_a4_pages(opened: Any) -> None:
    tab, _, _ = opened
    document = tab.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", document)
    pictures = tab.evaluate("document.querySelectorAll('figure').length")
    fewest, most = (6, 14) if pictures > 1 else (1, 3)
    assert fewest <= len(boxes) <= most
    for width, height in boxes:
        assert float(width) == pytest.approx(595.3, abs=1.5)  # A4, ISO 216: 210 mm by 297 mm
        assert float(height) == pytest.approx(841.9, abs=1.5)


def test_on_paper_no_picture_is_broken_and_links_are_plain(opened: Any) -> None:
    tab, _, _ = opened
    tab.emulate_media(media="print")
    rule = "getComputedStyle(document.querySelector('figure')).breakInside"
    assert tab.evaluate(rule) == "avoid"
    links = "[...document.querySelectorAll('nav')].map(e => getComputedStyle(e).display)"
    assert set(tab.evaluate(links)) <= {"none"}
    tab.emulate_media(media="screen")


@pytest.mark.parametrize("opened", ["plan that looks ahead"], indirect=True)
def test_on_paper_the_slack_picture_still_says_how_it_is_read(opened: Any) -> None:
    tab, _, _ = opened
    tab.emulate_media(media="print")
    key = "document.querySelector('.tall figcaption .outcomes')"
    assert tab.evaluate(f"getComputedStyle({key}).display") != "none"
    tab.emulate_media(media="screen")
