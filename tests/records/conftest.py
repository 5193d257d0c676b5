"""Plans to show, each made once: pages take half a second to draw."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from invented_plans import go_plan, invented_plan, no_go_plan

from neckring.outing.findings import Plan
from neckring.records.plan_page import render_page


@pytest.fixture(scope="session")
def shorten() -> Plan:
    return invented_plan()


@pytest.fixture(scope="session", params=["shorten", "go", "no-go"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return {"shorten": invented_plan, "go": go_plan, "no-go": no_go_plan}[request.param]()


@pytest.fixture(scope="session")
def page(plan: Plan) -> str:
    return render_page(plan)


@pytest.fixture(scope="session")
def shorten_page(shorten: Plan) -> str:
    return render_page(shorten)
