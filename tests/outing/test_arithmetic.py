"""The kernel's own elementary functions against the library's, to the accuracy they state."""

from __future__ import annotations

import math

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.arithmetic import exponential, saturation_pressure

psychrolib.SetUnitSystem(psychrolib.SI)


@given(st.floats(-4.0, 4.0))
def test_exponential_near_nought(x: float) -> None:
    assert exponential(x) == pytest.approx(math.exp(x), rel=1e-10)


@given(st.floats(-30.0, 10.0))
def test_exponential_far_from_nought(x: float) -> None:
    assert exponential(x) == pytest.approx(math.exp(x), rel=1e-4)


@given(st.floats(-1e6, -30.0))
def test_exponential_never_ends_below_nought(x: float) -> None:
    assert exponential(x) == exponential(-30.0)
    assert 0.0 < exponential(x) < 1e-12


@given(st.floats(-30.0, 10.0), st.floats(1e-6, 5.0))
def test_exponential_grows(x: float, more: float) -> None:
    assert exponential(x + more) > exponential(x)


@given(st.floats(0.02, 50.0))
def test_saturation_against_the_handbook(temperature: float) -> None:
    # Measured: 0.38 % low at 0 degC, 0.11 % and better from 14 to 50 degC.
    expected = psychrolib.GetSatVapPres(temperature)
    close = 1.1e-3 if temperature > 14.0 else 4e-3
    assert saturation_pressure(temperature) == pytest.approx(expected, rel=close)


@given(st.floats(-40.0, 99.0), st.floats(0.01, 1.0))
def test_saturation_grows_and_is_never_nought(temperature: float, more: float) -> None:
    assert 0.0 < saturation_pressure(temperature) < saturation_pressure(temperature + more)


def test_compiled_and_plain_are_the_same() -> None:
    # Given the same functions without the compiler, then not a bit differs.
    for x in np.linspace(-35.0, 10.0, 400):
        assert exponential(x) == exponential.py_func(x)
    scope = saturation_pressure.py_func.__globals__
    assert scope["exponential"] is exponential
    for t in np.linspace(-40.0, 90.0, 400):
        assert saturation_pressure(t) == saturation_pressure.py_func(t)
