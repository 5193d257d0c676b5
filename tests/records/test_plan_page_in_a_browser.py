"""The page in a real browser: silent, still, within its width, and printable."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from page_in_a_browser import (
    IN_A_BROWSER,
    WIDTHS,
    a4_pages,
    assert_silent,
    assert_within,
    boxes_that_scroll,
    browser,
    opened_page,
    texts_cut_off,
)

from neckring.outing.findings import Plan
from neckring.records.compare_page import render_comparison
from neckring.records.plan_page import render_page

__all__ = ["browser"]
pytestmark = IN_A_BROWSER


@pytest.fixture(scope="module", params=["plan", "plan that looks ahead", "comparison"])
def opened(
    request: pytest.FixtureRequest,
    browser: Any,
    shorten: Plan,
    ahead: Plan,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[tuple[Any, list[str], list[str]]]:
    pages = {
        "plan": lambda: render_page(shorten),
        "plan that looks ahead": lambda: render_page(ahead),
        "comparison": lambda: render_comparison([("bench", ahead), ("the same, not", shorten)]),
    }
    html = pages[request.param]()
    with opened_page(browser, html, tmp_path_factory.mktemp("page")) as page:
        yield page


def test_it_says_nothing_in_the_console_and_asks_the_network_for_nothing(opened: Any) -> None:
    assert_silent(opened)


def test_its_style_is_in_force_under_its_own_policy(opened: Any) -> None:
    tab, _, _ = opened
    assert tab.evaluate("getComputedStyle(document.querySelector('figure')).display") == "grid"


@pytest.mark.parametrize("width", WIDTHS)
def test_it_never_scrolls_sideways(opened: Any, width: int) -> None:
    assert_within(opened[0], width)


def test_on_a_tablet_tables_and_pictures_fit_without_scrolling_in_their_boxes(opened: Any) -> None:
    assert boxes_that_scroll(opened[0]) == []


def test_no_text_of_a_picture_is_cut_off(opened: Any) -> None:
    assert texts_cut_off(opened[0]) == []


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
    pictures = tab.evaluate("document.querySelectorAll('figure').length")
    fewest, most = (6, 14) if pictures > 1 else (1, 3)
    assert fewest <= a4_pages(tab) <= most


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
