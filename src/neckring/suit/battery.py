"""The battery: voltage over charge, constant power through resistance, cold, age, run time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from neckring.values import Band, FloatArray, Values, plain, require_within

Chemistry = Literal["lithium_ion", "lead_acid"]

CELL_VOLTAGE = {"lithium_ion": 3.6, "lead_acid": 2.0}
"""[V], nominal voltage of one cell (IEC 61960-3; IEC 60896; from memory)."""

# Filling of the electrodes of a 5 Ah cell, empty (2.5 V) to full (4.2 V), and their voltages: Chen
# et al. 2020, J. Electrochem. Soc. 167:080534 (fits as printed; the fillings solve the two
# voltages with the paper's electrode capacities, which a test repeats).
_GRAPHITE_FILLING = (0.0265, 0.9106)
_NICKEL_OXIDE_FILLING = (0.8539, 0.2638)

# Rest voltage of a 12 V lead-acid battery by tenths of charge: trade tables, from memory.
_LEAD_ACID_REST = np.array(
    (10.50, 11.51, 11.66, 11.81, 11.96, 12.10, 12.24, 12.37, 12.50, 12.62, 12.73)
)

COLDEST = -20.0
HOTTEST = 60.0

# Capacity at a temperature over that at 25 degC.
# Low: 6.7 C to 2.5 V, Samsung SDI INR18650-15L specification 3.21, section 7.5.
_LITHIUM_LOW = ((-20.0, 0.60), (-10.0, 0.75), (0.0, 0.80), (25.0, 1.0), (60.0, 1.0))
# High: C/3 or slower; -10 degC from a 2200 mAh cell's sheet at 0.2 C, the rest from memory.
_LITHIUM_HIGH = ((-20.0, 0.70), (-10.0, 0.85), (0.0, 0.88), (10.0, 0.95), (25.0, 1.0), (60.0, 1.0))
# High: a vendor's table for discharge longer than an hour; below 0 degC its slope carried on.
_LEAD_HIGH = (
    (-20.0, 0.68),
    (0.0, 0.84),
    (5.0, 0.88),
    (10.0, 0.90),
    (15.0, 0.94),
    (20.0, 0.99),
    (25.0, 1.0),
    (35.0, 1.04),
    (60.0, 1.04),
)

RESISTANCE_DOUBLING = 20.0
"""[K] of cold below 25 degC that doubles a cell's resistance (assumed; measure the real pack)."""

CHARGE_STEPS = 400


@dataclass(frozen=True)
class Battery:
    """A pack of cells; every number may be an array of members.

    Attributes:
        chemistry: Of the cells.
        nominal_voltage: Of the pack [V]; gives the number of cells in series.
        capacity: Rated charge [C].
        resistance: Of pack and leads at 25 degC [ohm].
        cut_off_voltage: At which the electronics switch off [V].
        age_factor: Capacity now over rated capacity [1].
        start_charge: Charge at the start over full charge [1].
    """

    chemistry: Chemistry
    nominal_voltage: Values
    capacity: Values
    resistance: Values
    cut_off_voltage: Values
    age_factor: Values = 1.0
    start_charge: Values = 1.0


def cell_voltage(chemistry: Chemistry, charge: Values) -> Values:
    """Rest voltage of one cell.

    Args:
        chemistry: Of the cell.
        charge: Over full charge [1], 0 to 1.

    Returns:
        [V]

    Raises:
        ValueError: Charge outside 0 to 1, or an unknown chemistry.

    Source: lithium-ion, Chen et al. 2020 (J. Electrochem. Soc. 167:080534), nickel oxide against
        graphite; lead-acid, trade tables (from memory). The real cell's curve is better.
    """
    require_within("charge", charge, 0.0, 1.0, "of full charge")
    if chemistry == "lithium_ion":
        return _lithium_ion_voltage(charge)
    if chemistry == "lead_acid":
        return plain(np.interp(charge, np.linspace(0.0, 1.0, 11), _LEAD_ACID_REST / 6.0))
    raise ValueError(f"chemistry is {chemistry!r}; accepted: 'lithium_ion', 'lead_acid'")


def _lithium_ion_voltage(charge: Values) -> Values:
    x = _between(_GRAPHITE_FILLING, charge)
    y = _between(_NICKEL_OXIDE_FILLING, charge)
    graphite = (
        1.9793 * np.exp(-39.3631 * x)
        + 0.2482
        - 0.0909 * np.tanh(29.8538 * (x - 0.1234))
        - 0.04478 * np.tanh(14.9159 * (x - 0.2769))
        - 0.0205 * np.tanh(30.4444 * (x - 0.6103))
    )
    nickel_oxide = (
        -0.8090 * y
        + 4.4875
        - 0.0428 * np.tanh(18.5138 * (y - 0.5542))
        - 17.7326 * np.tanh(15.7890 * (y - 0.3117))
        + 17.5842 * np.tanh(15.9308 * (y - 0.3120))
    )
    voltage: Values = nickel_oxide - graphite
    return voltage


def _between(ends: tuple[float, float], share: Values) -> Values:
    return ends[0] + (ends[1] - ends[0]) * share


def open_circuit_voltage(battery: Battery, charge: Values) -> Values:
    """Rest voltage of the pack [V] at a charge over full charge [1]; see `cell_voltage`."""
    cells = battery.nominal_voltage / CELL_VOLTAGE[battery.chemistry]
    return cells * cell_voltage(battery.chemistry, charge)


def load_current(power: Values, open_circuit: Values, resistance: Values) -> Values:
    """Current that a constant power draws through the battery's resistance.

    Args:
        power: At the terminals [W].
        open_circuit: Rest voltage [V].
        resistance: [ohm], 0 or more.

    Returns:
        [A]; infinite when the battery cannot give the power at all.

    Source: the smaller root of R I2 - V I + P = 0.
    """
    under_root = np.asarray(open_circuit) ** 2 - 4.0 * np.asarray(resistance) * power
    collapsed = under_root < 0.0
    # This form of the root does not divide by the resistance.
    current = 2.0 * power / (open_circuit + np.sqrt(np.maximum(under_root, 0.0)))
    return plain(np.where(collapsed, np.inf, current))


def terminal_voltage(power: Values, open_circuit: Values, resistance: Values) -> Values:
    """Voltage at the terminals under a constant power [V]; 0 when it collapses."""
    current = np.asarray(load_current(power, open_circuit, resistance))
    sag = np.where(np.isinf(current), open_circuit, np.nan_to_num(current) * resistance)
    return plain(open_circuit - sag)


def capacity_factor(chemistry: Chemistry, temperature: Values) -> Band:
    """Usable charge at a temperature over that at 25 degC.

    Args:
        chemistry: Of the cells.
        temperature: Of the cells [degC], -20 to 60.

    Returns:
        Band [1]: low for fast discharge or the cautious standard, high for slow discharge, likely
        between them.

    Raises:
        ValueError: Temperature outside the range.

    Source: lithium-ion, Samsung SDI INR18650-15L sheet (low), slow-discharge sheets and memory
        (high); lead-acid, IEEE 485 fit (low, stated for -3.9 to 51.7 degC and carried on), vendor
        table (high). Lithium-ion must not be charged below 0 degC.
    """
    require_within("battery temperature", temperature, COLDEST, HOTTEST, "degC")
    if chemistry == "lithium_ion":
        low, high = (
            _interpolate(temperature, _LITHIUM_LOW),
            _interpolate(temperature, _LITHIUM_HIGH),
        )
    else:
        low, high = ieee_485_capacity(temperature), _interpolate(temperature, _LEAD_HIGH)
    low = np.minimum(low, high)
    return Band(plain(0.5 * (low + high)), plain(low), plain(high))


def _interpolate(temperature: Values, table: tuple[tuple[float, float], ...]) -> Values:
    temperatures, factors = np.array(table).T
    return plain(np.interp(temperature, temperatures, factors))


def ieee_485_capacity(temperature: Values) -> Values:
    """Capacity of a lead-acid battery over that at 25 degC, after the sizing standard.

    Args:
        temperature: [degC]; the fit is stated for -3.9 to 51.7.

    Returns:
        [1]

    Source: cubic fit to the temperature factors of IEEE 485, as given in a consultant's note.
    """
    x = np.asarray(temperature) / 100.0
    larger = -2.8117 * x**3 + 4.1916 * x**2 - 2.4941 * x + 1.405
    return plain(1.0 / larger)


def resistance_at(battery: Battery, temperature: Values) -> Values:
    """Resistance of the pack when cold [ohm].

    Args:
        battery: With its resistance at 25 degC.
        temperature: Of the cells [degC].

    Returns:
        [ohm], as at 25 degC when warmer.

    Source: doubling every 20 K of cold, assumed. Resistance rises mainly at the cathode's surface
        (SAE 1999-01-2462); measure the real pack.
    """
    colder = np.maximum(25.0 - np.asarray(temperature), 0.0)
    return plain(battery.resistance * 2.0 ** (colder / RESISTANCE_DOUBLING))


def life_at_constant_power(battery: Battery, power: Values, temperature: Values) -> Band:
    """Run time from the start charge until the terminals fall to the cut-off voltage.

    Args:
        battery: Fields of shape () or any that broadcast with power and temperature.
        power: At the terminals [W], above 0.
        temperature: Of the cells [degC], -20 to 60.

    Returns:
        Band [s]. Low: cautious capacity, resistance of the cold. High: slow-discharge capacity,
        resistance at 25 degC. Likely: middle capacity, resistance of the cold. Calibrate with one
        measured run-down of the real pack.

    Raises:
        ValueError: Temperature outside the range.
    """
    factor = capacity_factor(battery.chemistry, temperature)
    cold = resistance_at(battery, temperature)
    return Band(
        _life(battery, power, factor.likely, cold),
        _life(battery, power, factor.low, cold),
        _life(battery, power, factor.high, battery.resistance),
    )


def _life(battery: Battery, power: Values, factor: Values, resistance: Values) -> Values:
    share = np.linspace(0.0, 1.0, CHARGE_STEPS + 1)
    shape = np.broadcast_shapes(
        *(np.shape(v) for v in (power, factor, resistance, *list(vars(battery).values())[1:]))
    )
    share = share.reshape(-1, *(1 for _ in shape))
    voltage = open_circuit_voltage(battery, battery.start_charge * (1.0 - share))
    volts = np.asarray(terminal_voltage(power, voltage, resistance))
    slowness = 1.0 / np.asarray(load_current(power, voltage, resistance))
    above = volts - battery.cut_off_voltage
    # Voltage falls with charge: the last step counts as far as the straight line to the cut-off.
    fall = np.maximum(volts[:-1] - volts[1:], 1e-12)
    part = np.clip(above[:-1] / fall, 0.0, 1.0) * (above[:-1] > 0.0)
    part = np.where(above[1:] >= 0.0, above[:-1] > 0.0, part)
    charge = battery.start_charge * battery.capacity * battery.age_factor * factor / CHARGE_STEPS
    return plain(np.sum(part * 0.5 * (slowness[:-1] + slowness[1:]), axis=0) * charge)


def voltage_cubic(battery: Battery, lowest_charge: float = 0.05) -> FloatArray:
    """Cubic in the charge that stands for the rest voltage in the kernel.

    Args:
        battery: Fields of shape () or (members,).
        lowest_charge: Lower end of the fit [1].

    Returns:
        Coefficients of 1, z, z2, z3 with z the charge over full charge, giving [V]; shape (4,) or
        (4, members). Within 0.08 V a cell of `cell_voltage` above `lowest_charge`.
    """
    angle = np.pi * (np.arange(60) + 0.5) / 60
    charge = 0.5 * (1.0 + lowest_charge) + 0.5 * (1.0 - lowest_charge) * np.cos(angle)
    cell = np.polynomial.polynomial.polyfit(charge, cell_voltage(battery.chemistry, charge), 3)
    cells = np.asarray(battery.nominal_voltage) / CELL_VOLTAGE[battery.chemistry]
    return np.multiply.outer(cell, cells)


def peukert_time(capacity: Values, rated_time: Values, exponent: Values, current: Values) -> Values:
    """Discharge time of a lead-acid battery whose capacity is stated for a rated time.

    Args:
        capacity: At the rated time [C].
        rated_time: For example 72000 for a 20-hour rating [s].
        exponent: [1], 1.05 to 1.6; use 1 for lithium-ion.
        current: [A], between about a fifth and four times the rated current.

    Returns:
        [s]

    Source: Peukert 1897 in the rated-time convention, t = H (C/(I H))^k.
    """
    return rated_time * (capacity / (current * rated_time)) ** exponent


def peukert_time_one_ampere(capacity: Values, exponent: Values, current: Values) -> Values:
    """Discharge time when the capacity is stated for a current of 1 A.

    Args:
        capacity: At 1 A [C].
        exponent: [1]
        current: [A]

    Returns:
        [s]; not to be mixed up with `peukert_time`, which sellers' ratings need.

    Source: Peukert 1897 in its first convention, t = C / I^k.
    """
    return capacity / current**exponent
