"""Plans to show, each made once: pages take half a second to draw."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from invented_outlooks import with_outlook
from invented_plans import go_plan, invented_plan, no_go_plan

from neckring.outing.findings import Plan
from neckring.records.plan_page import render_page

PLANS = {
    "shorten": invented_plan,
    "go": go_plan,
    "no-go": no_go_plan,
    "shorten, looked ahead": lambda: with_outlook(invented_plan()),
    "go, looked ahead": lambda: with_outlook(go_plan(), harm=1.5),
    "no-go, looked ahead": lambda: with_outlook(no_go_plan(), harm=0.6),
}


@pytest.fixture(scope="session")
def shorten() -> Plan:
    return invented_plan()


@pytest.fixture(scope="session")
def ahead() -> Plan:
    return PLANS["shorten, looked ahead"]()


@pytest.fixture(scope="session", params=[name for name in PLANS if "ahead" in name])
def looked_ahead(request: pytest.FixtureRequest) -> Plan:
    return PLANS[request.param]()


@pytest.fixture(scope="session", params=list(PLANS))
def plan(request: pytest.FixtureRequest) -> Plan:
    return PLANS[request.param]()


@pytest.fixture(scope="session")
def page(plan: Plan) -> str:
    return render_page(plan)


@pytest.fixture(scope="session")
def shorten_page(shorten: Plan) -> str:
    return render_page(shorten)


@pytest.fixture(scope="session")
def ahead_page(ahead: Plan) -> str:
    return render_page(ahead)
