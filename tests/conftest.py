"""One setting for every property test, and which tests stay together when cores share them.

Property tests are repeatable in `make test`, free and long in `make soak`.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("repeatable", deadline=None, derandomize=True)
settings.register_profile("soak", deadline=None, max_examples=1000)
settings.load_profile("soak" if os.environ.get("NECKRING_SOAK") == "1" else "repeatable")

LONG = ("web", "outing", "procedure")
"""Folders that take long: after the house's own pages they begin, so that no core waits."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Keep the tests of a file together: what a file computes once is then computed once."""
    for item in items:
        item.add_marker(pytest.mark.xdist_group(str(item.path)))
    items.sort(key=_begins)


def _begins(item: pytest.Item) -> int:
    """Long ones first; else as collected."""
    if item.path.name == "test_house.py":
        return 0
    folder = item.path.relative_to(Path(__file__).parent).parts[0]
    return 1 + LONG.index(folder) if folder in LONG else 1 + len(LONG)
