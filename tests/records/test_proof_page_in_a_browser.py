"""The page of a proof in a real browser: silent, still, within its width, readable, printable."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from examined import EXAMINATIONS, page_of
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

__all__ = ["browser"]
pytestmark = IN_A_BROWSER


@pytest.fixture(scope="module", params=["broken", "broken, two wearers", "not decided"])
def opened(
    request: pytest.FixtureRequest, browser: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Any, list[str], list[str]]]:
    html = page_of(EXAMINATIONS[request.param]())
    with opened_page(browser, html, tmp_path_factory.mktemp("page")) as page:
        yield page


def test_it_says_nothing_in_the_console_and_asks_the_network_for_nothing(opened: Any) -> None:
    assert_silent(opened)


def test_its_own_style_is_in_force_under_its_own_policy(opened: Any) -> None:
    tab, _, _ = opened
    rule = "getComputedStyle(document.querySelector('.tick')).display"
    assert tab.evaluate(rule) == "inline-block"


@pytest.mark.parametrize("width", WIDTHS)
def test_it_never_scrolls_sideways(opened: Any, width: int) -> None:
    assert_within(opened[0], width)


def test_on_a_tablet_tables_fit_without_scrolling_in_their_boxes(opened: Any) -> None:
    assert boxes_that_scroll(opened[0]) == []


def test_no_text_of_a_picture_is_cut_off(opened: Any) -> None:
    assert texts_cut_off(opened[0]) == []


def test_every_text_stands_out_from_its_ground(opened: Any) -> None:
    """Contrast of 4.5 to 1 at least: Web Content Accessibility Guidelines 2.1, 1.4.3."""
    tab, _, _ = opened
    weak = tab.evaluate(
        """(() => {
            const parts = text => text.match(/[\\d.]+/g).map(Number);
            const linear = c => (c /= 255, c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
            const light = ([r, g, b]) =>
                0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
            const ground = e => {
                for (; e; e = e.parentElement) {
                    const found = parts(getComputedStyle(e).backgroundColor);
                    if (found.length < 4 || found[3] > 0) return found;
                }
                return [255, 255, 255];
            };
            return [...document.querySelectorAll('body *')]
                .filter(e => !e.closest('svg') && [...e.childNodes]
                    .some(n => n.nodeType === 3 && n.textContent.trim()))
                .map(e => {
                    const pair = [light(parts(getComputedStyle(e).color)), light(ground(e))];
                    return [(Math.max(...pair) + 0.05) / (Math.min(...pair) + 0.05),
                        e.textContent.slice(0, 30)];
                }).filter(([contrast]) => contrast < 4.5);
        })()"""
    )
    assert weak == []


def test_it_prints_on_a4(opened: Any) -> None:
    assert 3 <= a4_pages(opened[0]) <= 9


def test_on_paper_a_step_stays_whole_with_its_caution_and_traces_are_open(opened: Any) -> None:
    tab, _, _ = opened
    tab.emulate_media(media="print")
    # 182 mm by 269 mm of A4 are left within the margins; 96 px are an inch (CSS Values 3).
    tab.set_viewport_size({"width": 688, "height": 1016})
    steps = tab.evaluate(
        """[...document.querySelectorAll('.steps tbody')].map(e =>
            [getComputedStyle(e).breakInside, e.getBoundingClientRect().height])"""
    )
    assert len(steps) >= 8
    assert {rule for rule, _ in steps} == {"avoid"}
    assert max(height for _, height in steps) < 1016 / 3
    assert tab.evaluate("[...document.querySelectorAll('details')].every(e => e.open)")
    assert tab.evaluate("document.documentElement.scrollWidth") <= 688
    links = "[...document.querySelectorAll('nav')].map(e => getComputedStyle(e).display)"
    assert set(tab.evaluate(links)) == {"none"}
    tab.emulate_media(media="screen")
