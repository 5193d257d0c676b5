"""The load on the wearer, and the garment in steady state."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.suit import garment_design as g
from neckring.suit import load

positive = st.floats(0.1, 100.0)


@pytest.mark.parametrize(("share", "rank"), [(0.2, 0), (0.30, 0), (0.31, 1), (0.45, 1), (0.46, 2)])
def test_remarks_change_at_the_guides(share, rank):
    remark = load.load_remark(share)
    assert remark.rank == rank
    assert "Army" in remark.source


@given(positive, positive, st.floats(0.0, 0.5))
def test_the_common_centre_lies_between_body_and_load(body, carried, offset):
    shift = load.centre_of_gravity_shift(body, carried, offset)
    assert 0.0 <= shift <= offset
    assert 0.0 <= load.forward_lean(shift) < np.pi / 6


@given(positive, st.floats(0.0, 0.9))
def test_hips_relieve_the_shoulders(mass, share):
    bare, helped = (load.strap_pressure(mass, s, 0.07, 0.25) for s in (share, share + 0.1))
    assert helped.likely < bare.likely
    assert bare.low < bare.likely < bare.high
    assert load.strap_pressure(mass, 1.0, 0.07, 0.25).high == pytest.approx(0.0, abs=1e-9)


@given(st.floats(0.01, 50.0), st.floats(0.01, 200.0))
def test_exchange_is_less_than_conductance_and_than_the_stream(conductance, rate):
    exchange = g.exchange_conductance(conductance, rate)
    assert 0.0 < exchange <= min(conductance, rate) * (1 + 1e-12)


def test_standing_water_takes_no_heat():
    assert g.exchange_conductance(25.0, 0.0) == 0.0
    assert g.heat_removal(np.array([10.0, 25.0]), 0.0, 33.0, 10.0) == pytest.approx([0.0, 0.0])


@given(st.floats(1.0, 40.0), st.floats(5.0, 150.0), st.floats(28.0, 36.0), st.floats(2.0, 25.0))
def test_a_test_gives_back_the_conductance_that_made_it(conductance, rate, skin, inlet):
    heat = g.heat_removal(conductance, rate, skin, inlet)
    assert g.conductance_from_test(heat, rate, skin, inlet) == pytest.approx(conductance, rel=1e-6)


zones = st.lists(st.tuples(st.floats(25, 36), st.floats(0.5, 10)), min_size=2, max_size=8)


@given(zones, st.floats(10.0, 150.0), st.floats(5.0, 24.0))
def test_the_return_carries_all_heat_in_rows_and_side_by_side(zones, rate, inlet):
    skin, conductance = (np.array(column) for column in zip(*zones, strict=True))
    rates = g.parallel_rates(conductance, rate)
    beside = g.steady_garment(skin, conductance, [[i] for i in range(len(skin))], rates, inlet)
    row = g.steady_garment(skin, conductance, [range(len(skin))], [rate], inlet)
    for state in (beside, row):
        carried = rate * (state.return_temperature - inlet)
        assert carried == pytest.approx(state.heat.sum(), rel=1e-9)
        assert state.outlet.max() <= skin.max()
    assert (beside.heat >= 0).all()


def test_zones_outside_every_circuit_take_no_part():
    state = g.steady_garment(np.array([33.0, 33.0]), np.array([5.0, 5.0]), [[0]], [40.0], 15.0)
    assert state.heat[1] == 0.0
    assert state.outlet[1] == 15.0
