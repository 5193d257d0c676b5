"""Gas exchange and breathing against published forms, machines of standards, and jos3."""

import jos3.thermoregulation
import numpy as np
import pytest

from neckring.body import breath

LITRE_A_MINUTE = 1e-3 / 60.0


@pytest.mark.parametrize(
    ("method", "source"),
    [("weir", "Weir 1949, J Physiol 109:1"), ("brockway", "Brockway 1987, Hum Nutr 41C:463")],
)
@pytest.mark.parametrize("quotient", [0.70, 0.85, 1.00])
def test_energy_equivalents(outside_check, method, source, quotient):
    reference = breath.metabolic_rate_from_gases(LITRE_A_MINUTE, quotient * LITRE_A_MINUTE, method)
    outside_check(
        area="breath",
        name=f"energy of a litre of oxygen a minute, RQ {quotient:.2f}, against {method.title()}",
        source=f"{source} (coefficients from memory)",
        kind="from memory",
        unit="W",
        expected=reference,
        tolerance=0.004,
        relative=True,
        obtained=breath.energy_equivalent(quotient) * LITRE_A_MINUTE,
    )


@pytest.mark.parametrize(
    ("who", "age", "height", "female", "expected"),
    [("man of 30, 1.75 m", 30, 1.75, False, 24.6), ("woman of 30, 1.65 m", 30, 1.65, True, 25.9)],
)
def test_ventilation_per_carbon_dioxide(outside_check, who, age, height, female, expected):
    outside_check(
        area="breath",
        name=f"lowest ventilation over carbon dioxide, {who}",
        source="Sun et al. 2002, Am J Respir Crit Care Med 166:1443, regression in the abstract",
        kind="published",
        expected=expected,
        tolerance=0.1,
        obtained=breath.ventilation_per_carbon_dioxide(age, height, female),
    )


@pytest.mark.parametrize(
    ("source", "ventilation", "expected"),
    [
        ("42 CFR 84.97 machine: 10.5 L/min at 14.5 breaths a minute", 10.5, 10.5 / 14.5),
        ("EN 149 machine: 25 breaths of 2.0 L a minute", 50.0, 2.0),
    ],
)
def test_tidal_volume(outside_check, source, ventilation, expected):
    capacity = breath.vital_capacity(30.0, 1.78, False)
    outside_check(
        area="breath",
        name=f"breath at {ventilation:g} L/min",
        source=source,
        kind="published",
        unit="L",
        expected=expected,
        tolerance=0.10,
        relative=True,
        obtained=1e3 * breath.tidal_volume(ventilation * LITRE_A_MINUTE, capacity),
    )


def test_respiratory_heat_against_jos3(outside_check):
    cases = [(20.0, 1200.0, 150.0), (30.0, 3000.0, 300.0), (10.0, 600.0, 450.0)]
    ours, theirs = [], []
    for temperature, vapour, rate in cases:
        sensible, latent = jos3.thermoregulation.resp_heatloss(temperature, vapour / 1e3, rate)
        theirs += [sensible, latent]
        ours += [
            breath.respiratory_dry_heat(rate, temperature),
            breath.respiratory_latent_heat(rate, vapour),
        ]
    outside_check(
        area="breath",
        name="heat lost by breathing, six values, largest relative difference",
        source="jos3 0.5.0 (Fanger 1970)",
        kind="reference library",
        low=0.0,
        high=1e-6,
        obtained=np.abs(np.array(ours) / theirs - 1).max(),
    )


def test_respiratory_water_against_the_breathed_air(outside_check):
    from neckring.suit.moist_air import humidity_ratio

    rate, vapour = 300.0, 1170.0
    person = breath.breathing(rate, 0.85, 35.0, 1.75, False)
    dry = person.ventilation * (101_325.0 - 6281.0) / (287.042 * 310.15)
    gained = humidity_ratio(0.95 * 5320.0, 101_325.0) - humidity_ratio(vapour, 101_325.0)
    outside_check(
        area="breath",
        name="water breathed out at 300 W, 20 degC, 50 %",
        source="breathed air (Sun et al. 2002) leaving at 34 degC and 95 % humidity (from memory)",
        kind="from memory",
        unit="g/h",
        expected=dry * gained * 3.6e6,
        tolerance=0.25,
        relative=True,
        obtained=breath.respiratory_water_loss(rate, vapour) * 3.6e6,
    )
