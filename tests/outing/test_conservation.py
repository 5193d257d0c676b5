"""Nothing is lost and nothing comes from nowhere, in any scenario a station can describe."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from scenarios import scenario_of, scenarios

from neckring.outing.plan import Simulated, simulate
from neckring.outing.scenario import Scenario

CLOSE = 1e-9


def no_balance_fails(done: Simulated) -> None:
    """Energy, water, carbon dioxide and oxygen add up."""
    closure = done.closure
    assert closure.energy < CLOSE
    assert closure.water < CLOSE
    assert closure.co2 < CLOSE
    assert closure.o2 < CLOSE


@given(scenarios())
def test_energy_water_and_gases_add_up(scenario: Scenario) -> None:
    # Given any scenario at all, when it is computed,
    done = simulate(scenario)
    # then every balance closes to rounding.
    no_balance_fails(done)
    bad = [n for n, v in done.trace.items() if not np.isfinite(v).all()]
    assert not bad
