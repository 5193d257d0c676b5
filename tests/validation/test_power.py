"""The battery against cell sheets, sizing standards and worked examples."""

import numpy as np
import pytest

from neckring.suit import battery as b

HOUR = 3600.0


@pytest.mark.parametrize(("charge", "expected"), [(1.0, 4.2), (0.0, 2.5)])
def test_cell_voltage_at_the_ends(outside_check, charge, expected):
    outside_check(
        area="power",
        name=f"lithium-ion rest voltage at {charge:.0%} charge",
        source="Chen et al. 2020, J. Electrochem. Soc. 167:080534: cut-off voltages of the cell",
        kind="published",
        unit="V",
        expected=expected,
        tolerance=0.01,
        obtained=b.cell_voltage("lithium_ion", charge),
    )


def test_mean_cell_voltage(outside_check):
    outside_check(
        area="power",
        name="lithium-ion rest voltage, mean over charge",
        source="nominal 3.63 V on the sheet of the cell that Chen et al. 2020 measured (from "
        "memory); rest voltage lies a little above",
        kind="from memory",
        unit="V",
        low=3.63,
        high=3.75,
        obtained=np.mean(b.cell_voltage("lithium_ion", np.linspace(0.005, 0.995, 100))),
    )


def test_constant_power(outside_check):
    current = b.load_current(20.0, 14.4, 0.2)
    outside_check(
        area="power",
        name="current of 20 W from 14.4 V through 0.2 ohm",
        source="(V - sqrt(V2 - 4RP))/2R by hand",
        kind="identity",
        unit="A",
        expected=1.4168,
        tolerance=1e-4,
        obtained=current,
    )
    outside_check(
        area="power",
        name="power that comes back from that current and sag",
        source="P = V I at the terminals",
        kind="identity",
        unit="W",
        expected=20.0,
        tolerance=1e-9,
        obtained=current * b.terminal_voltage(20.0, 14.4, 0.2),
    )


def test_cold_sag(outside_check):
    outside_check(
        area="power",
        name="terminal voltage of 20 W from 14.4 V through 0.8 ohm",
        source="root of the quadratic by hand",
        kind="identity",
        unit="V",
        expected=13.19,
        tolerance=0.005,
        obtained=b.terminal_voltage(20.0, 14.4, 0.8),
    )


def test_peukert(outside_check):
    outside_check(
        area="power",
        name="Peukert, 100 Ah at 20 h, exponent 1.2, 10 A",
        source="t = H (C/(I H))^k by hand",
        kind="identity",
        unit="h",
        expected=20 * (100 / 200) ** 1.2,
        tolerance=1e-9,
        obtained=b.peukert_time(100 * HOUR, 20 * HOUR, 1.2, 10.0) / HOUR,
    )
    outside_check(
        area="power",
        name="Peukert in its first convention, 100 Ah at 1 A, exponent 1.2, 5 A",
        source="worked example of an electrical engineering reference site: 14.5 h",
        kind="published",
        unit="h",
        expected=14.5,
        tolerance=0.005,
        relative=True,
        obtained=b.peukert_time_one_ampere(100 * HOUR, 1.2, 5.0) / HOUR,
    )


@pytest.mark.parametrize(("temperature", "factor"), [(0.0, 0.80), (-20.0, 0.60)])
def test_cold_lithium_cell(outside_check, temperature, factor):
    outside_check(
        area="power",
        name=f"lithium-ion, cautious capacity at {temperature:.0f} degC",
        source="Samsung SDI INR18650-15L specification 3.21, section 7.5 (minimum, 10 A)",
        kind="published",
        expected=factor,
        tolerance=1e-9,
        obtained=b.capacity_factor("lithium_ion", temperature).low,
    )


@pytest.mark.parametrize(("temperature", "larger"), [(25.0, 1.000), (0.0, 1.404), (10.0, 1.195)])
def test_lead_acid_sizing_standard(outside_check, temperature, larger):
    outside_check(
        area="power",
        name=f"lead-acid sizing factor at {temperature:.0f} degC",
        source="fit to IEEE 485 temperature factors in a consultant's note (1/y: 0.712 at 0, 0.837 "
        "at 10 degC)",
        kind="published",
        expected=larger,
        tolerance=0.002,
        relative=True,
        obtained=1.0 / b.ieee_485_capacity(temperature),
    )


def test_lead_acid_in_the_cold(outside_check):
    outside_check(
        area="power",
        name="lead-acid, likely capacity at 0 degC",
        source="1 + k (t - 25) of a second vendor, k from 0.010 (1 to 3 h) to 0.006 (10 to 20 h)",
        kind="published",
        low=0.75,
        high=0.85,
        obtained=b.capacity_factor("lead_acid", 0.0).likely,
    )


def test_run_time_at_no_resistance(outside_check):
    pack = b.Battery("lithium_ion", 14.4, 7.8 * HOUR, 0.0, 0.0)
    voltage = b.open_circuit_voltage(pack, np.linspace(0, 1, 200_001))
    energy = 7.8 * HOUR * np.trapezoid(voltage, dx=1 / 200_000)
    outside_check(
        area="power",
        name="run time at 20 W without resistance or cut-off",
        source="stored energy over power, voltage curve summed apart",
        kind="identity",
        unit="h",
        expected=energy / 20.0 / HOUR,
        tolerance=1e-4,
        relative=True,
        obtained=b.life_at_constant_power(pack, 20.0, 25.0).likely / HOUR,
    )
