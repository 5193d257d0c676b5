"""The page of a report in a real browser: silent, within its width, readable, printable."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import pytest
from kept_fixtures import day_report, told  # noqa: F401 - fixtures
from page_in_a_browser import (
    IN_A_BROWSER,
    WIDTHS,
    a4_pages,
    assert_silent,
    assert_within,
    browser,
    opened_page,
    texts_cut_off,
)

from neckring.records.report_page import render_report
from neckring.records.report_records import RunReport

__all__ = ["browser"]
pytestmark = IN_A_BROWSER


@pytest.fixture(scope="module")
def opened(
    browser: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Any, list[str], list[str]]]:
    with opened_page(browser, render_report(told()), tmp_path_factory.mktemp("page")) as page:
        yield page


def test_it_says_nothing_in_the_console_and_asks_the_network_for_nothing(opened: Any) -> None:
    assert_silent(opened)


@pytest.mark.parametrize("width", WIDTHS)
def test_it_never_scrolls_sideways(opened: Any, width: int) -> None:
    assert_within(opened[0], width)


def test_no_text_of_a_picture_is_cut_off(opened: Any) -> None:
    assert texts_cut_off(opened[0]) == []


def test_it_prints_on_a4(opened: Any, report: RunReport) -> None:
    # Every wearer has pages of courses and of steps beside the head.
    assert len(report.wearers) * 2 <= a4_pages(opened[0]) <= 40


def test_headings_go_down_one_level_at_a_time(opened: Any) -> None:
    """Web Content Accessibility Guidelines 2.1, 1.3.1; technique G141."""
    tab, _, _ = opened
    levels = tab.evaluate(
        "[...document.querySelectorAll('h1,h2,h3,h4,h5')].map(e => Number(e.tagName[1]))"
    )
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_every_picture_says_what_it_shows(opened: Any) -> None:
    """Web Content Accessibility Guidelines 2.1, 1.1.1."""
    tab, _, _ = opened
    silent = tab.evaluate(
        """[...document.querySelectorAll('svg.picture')].filter(e =>
            !e.closest('[aria-label], [aria-labelledby], figure') && !e.querySelector('title')
            && e.getAttribute('aria-hidden') !== 'true').length"""
    )
    assert silent == 0
