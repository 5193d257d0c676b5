"""What is written of a corrected number, and when."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from logged_worlds import DEMO

from neckring.calibration.corrected import OF_SUITS, _proposals, says_more, usual_air
from neckring.live.estimated import Band
from neckring.station.variation import with_value
from neckring.units import parse_quantity

SUIT = DEMO.suits["dipper"]


@given(st.floats(0.5, 2.0))
def test_a_suit_as_proposed_has_the_number_that_was_found(factor):
    # given numbers that differ from what is written, by any factor
    for asked in OF_SUITS:
        middle = asked.usual(SUIT) * factor
        found = Band(0.95 * middle, middle, 1.05 * middle)
        # when what is proposed is written
        suit = SUIT
        for proposal in _proposals(asked, SUIT, found):
            (quantity,) = [
                q for path, q in asked.written(SUIT).items() if path == proposal.place.path
            ]
            read = parse_quantity(proposal.text, quantity.kind)
            suit = with_value(suit, proposal.place.path, read)
            # then it is as uncertain as was found
            assert read.deviation / read.nominal == pytest.approx(0.1 / 3.29, rel=0.06)
        # and the suit has the number
        assert asked.usual(suit) == pytest.approx(middle, rel=0.004)


def test_the_air_moved_is_that_of_the_plan():
    # Source: quadratic fan curve against a quadratic duct, solved by hand for the meeting point
    air = SUIT.air
    flow = usual_air(SUIT)
    duct = air.duct.pressure.nominal * (flow / air.duct.flow.nominal) ** 2
    share = flow / (air.fans * air.fan.free_flow.nominal)
    fan = air.fan.shut_off_pressure.nominal * (1.0 - share**2)
    assert duct == pytest.approx(fan)


@pytest.mark.parametrize(
    ("now", "more"),
    [
        (Band(0.0, 1.0, 2.0), False),
        (Band(0.1, 1.0, 1.9), False),
        (Band(0.5, 1.0, 1.5), True),
        (Band(0.7, 1.7, 2.7), True),
    ],
)
def test_runs_say_more_when_the_band_is_narrower_or_elsewhere(now, more):
    assert says_more(Band(0.0, 1.0, 2.0), now) is more


def test_no_proposal_knows_better_than_the_model():
    asked = OF_SUITS[0]
    (proposal,) = _proposals(asked, SUIT, Band(21.99, 22.0, 22.01))
    read = parse_quantity(proposal.text, "conductance")
    assert read.deviation == pytest.approx(0.03 * 22.0, rel=0.02)
    assert np.isclose(read.nominal, 22.0)
