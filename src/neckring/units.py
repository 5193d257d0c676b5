"""The only place where text becomes SI floats, and back.

People write every quantity with its unit, and an uncertain one with its spread:

- `1.8 L/min`: exact;
- `30 W/K +/- 6`: normal, the figure after `+/-` is ONE standard deviation; `low` and `high` are the
  nominal value less and plus two of them;
- `20..40 W/K`: a range in which every value is as likely; the nominal value is its middle.

Inside, everything is an SI float with three documented exceptions: temperatures are in degC
(differences in K), ages in years, and a flow coefficient is the flow [m3/s] at a drop of one bar.
Fractions are 0..1 and heart rates are in 1/s.

Why a table and not a units library: `check` must be quick (the library takes 0.6 s to import), a
message can list exactly what is accepted, and `m`, `min`, `h` or `C` are never guessed at. The
tests hold every factor of the table against the library.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from typing import Literal

from neckring.unit_table import DIMENSIONS as DIMENSIONS
from neckring.unit_table import FRACTION, OTHER_SPELLINGS
from neckring.unit_table import Dimension as Dimension

Spread = Literal["exact", "normal", "range"]

DEVIATIONS_TO_BOUND = 2.0
"""`low` and `high` of a normal quantity lie this many standard deviations from the nominal."""

LONGEST_QUANTITY = 80
"""More letters than any quantity needs; longer text is refused unread."""

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[+-]?\.?(nan|inf|infinity|infinite|∞)\b", re.IGNORECASE)
_ODD_SPACES = "\u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u3000"
_SAME_AS = str.maketrans(
    {"\u2212": "-", "²": "2", "³": "3", "·": " ", "℃": "°C", "℉": "°F", "Ω": "Ω", "µ": "μ"}
    | dict.fromkeys(_ODD_SPACES, " ")
)


@dataclass(frozen=True)
class Quantity:
    """One quantity as written, in SI.

    Attributes:
        nominal: The likely value [SI].
        low: Lower bound [SI]; the nominal value when exact.
        high: Upper bound [SI]; the nominal value when exact.
        spread: "exact"; "normal", bounds two standard deviations away; "range", uniform.
        text: As written.
        kind: Name of its dimension, a key of `DIMENSIONS`.
    """

    nominal: float
    low: float
    high: float
    spread: Spread
    text: str
    kind: str

    @property
    def deviation(self) -> float:
        """Standard deviation [SI]; 0 when exact."""
        if self.spread == "normal":
            return (self.high - self.low) / (2.0 * DEVIATIONS_TO_BOUND)
        return (self.high - self.low) / math.sqrt(12.0)


class QuantityError(ValueError):
    """Text that is not a quantity of the wanted dimension.

    Attributes:
        read_as: What the text was taken for, for example "a conductance"; may be empty.
        hint: What to write instead; may be empty.
    """

    def __init__(self, read_as: str, hint: str = "") -> None:
        super().__init__("; ".join(part for part in (read_as, hint) if part))
        self.read_as = read_as
        self.hint = hint


def parse_quantity(text: str, dimension: str) -> Quantity:
    """Read one quantity.

    Args:
        text: As a person writes it, for example "30 W/K +/- 6".
        dimension: A key of `DIMENSIONS`.

    Returns:
        The quantity in SI.

    Raises:
        QuantityError: The text is not a finite quantity of that dimension.
        KeyError: No such dimension.
    """
    wanted = DIMENSIONS[dimension]
    written = _plain_letters(text)
    if ".." in written:
        return _read_range(written, text, wanted)
    if "+/-" in written:
        return _read_normal(written, text, wanted)
    number, unit = _number_and_unit(written)
    value = _to_si(number, unit, wanted)
    return Quantity(value, value, value, "exact", text, dimension)


def convert(number: float, unit: str, dimension: str) -> float:
    """Convert a number in one of the dimension's units to SI.

    Raises:
        QuantityError: The unit is not one of the dimension's.
    """
    return _to_si(number, unit, DIMENSIONS[dimension])


def format_quantity(value: float, dimension: str, unit: str = "") -> str:
    """Write an SI value for people, in a handy unit of its dimension.

    Args:
        value: [SI]
        dimension: A key of `DIMENSIONS`.
        unit: The unit to use; the handiest one when empty.

    Returns:
        For example "38.5 degC", "1.8 L/min", "62 bpm", "45 %".
    """
    known = DIMENSIONS[dimension]
    chosen = unit or _handy_unit(value, known)
    shown = (value - known.offset(chosen)) / known.units[chosen]
    return f"{_figures(shown)} {chosen}".strip()


def accepted_units(dimension: str) -> str:
    """List a dimension's units for a message, for example "m/s, km/h or mph"."""
    names = list(DIMENSIONS[dimension].listed)
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def _handy_unit(value: float, known: Dimension) -> str:
    small_first = known.shown
    if value == 0:
        return small_first[-1]
    fitting = [unit for unit in small_first if abs(value) >= known.units[unit] * 0.9999]
    return fitting[-1] if fitting else small_first[0]


def _figures(number: float) -> str:
    if number == 0 or not math.isfinite(number):
        return "0" if number == 0 else str(number)
    decimals = max(0, 3 - math.floor(math.log10(abs(number))))
    text = f"{number:.{min(decimals, 12)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _plain_letters(text: str) -> str:
    if len(text) > LONGEST_QUANTITY:
        raise QuantityError("a long text", "write one number and its unit")
    plain = text.translate(_SAME_AS).replace("±", "+/-").replace("+-", "+/-").replace("…", "..")
    return " ".join(plain.split())


def _read_range(written: str, text: str, wanted: Dimension) -> Quantity:
    first, second = _two_parts(written, "..")
    (low, low_unit), (high, high_unit) = _number_and_unit(first), _number_and_unit(second)
    bottom = _to_si(low, low_unit or high_unit, wanted)
    top = _to_si(high, high_unit or low_unit, wanted)
    if bottom > top:
        raise QuantityError("a range that runs backwards", "write the smaller number first")
    spread: Spread = "range" if top > bottom else "exact"
    return Quantity((bottom + top) / 2.0, bottom, top, spread, text, wanted.name)


def _read_normal(written: str, text: str, wanted: Dimension) -> Quantity:
    first, second = _two_parts(written, "+/-")
    (number, unit), (deviation, own_unit) = _number_and_unit(first), _number_and_unit(second)
    _refuse_relative_spread(own_unit, unit, wanted)
    nominal = _to_si(number, unit or own_unit, wanted)
    sized = _deviation_to_si(deviation, own_unit or unit, wanted)
    if sized < 0:
        raise QuantityError("a negative spread", "write the figure after +/- without a minus sign")
    reach = DEVIATIONS_TO_BOUND * sized
    spread: Spread = "normal" if sized > 0 else "exact"
    return Quantity(nominal, nominal - reach, nominal + reach, spread, text, wanted.name)


def _refuse_relative_spread(own_unit: str, unit: str, wanted: Dimension) -> None:
    if own_unit == "%" and wanted.name != FRACTION:
        raise QuantityError(
            "a spread in per cent", f"write the spread in the value's own unit, {unit or 'as well'}"
        )


def _deviation_to_si(number: float, unit: str, wanted: Dimension) -> float:
    value = _to_si(number, unit, wanted)
    # A spread of temperatures is a difference: the zero of its scale plays no part.
    return value - wanted.offset(wanted.spelled(unit))


def _two_parts(written: str, mark: str) -> tuple[str, str]:
    parts = written.split(mark)
    if len(parts) != 2 or not all(parts):
        raise QuantityError("an unfinished spread", 'write "30 W/K +/- 6" or "20..40 W/K"')
    return parts[0].strip(), parts[1].strip()


def _number_and_unit(written: str) -> tuple[float, str]:
    found = _NUMBER.match(written)
    if _NOT_FINITE.match(written):
        raise QuantityError("not a finite number", "write a number that can be measured")
    if found is None:
        raise QuantityError("text without a number at its start" if written else "nothing")
    rest = written[found.end() :].strip()
    _refuse_odd_number(written, found.group(), rest)
    number = float(found.group())
    if not math.isfinite(number):
        raise QuantityError("not a finite number", "the number is too large to be stored")
    return number, rest


def _refuse_odd_number(written: str, number: str, rest: str) -> None:
    if re.match(r",[0-9]", rest):
        better = written.replace(",", ".", 1)
        raise QuantityError("a number with a comma", f'write a decimal point: "{better}"')
    if re.match(r"[0-9](?![0-9]*/)", rest):
        raise QuantityError("a number with a gap in it", "write all its figures together")
    if re.match(r"[-\u2013\u2014]\s*[0-9]", rest):
        better = f"{number}..{rest[1:].strip()}"
        raise QuantityError("a range with a dash", f'write "{better}"')


def _to_si(number: float, unit: str, wanted: Dimension) -> float:
    spelled = wanted.spelled(unit)
    factor = wanted.units.get(spelled)
    if factor is None:
        raise _unit_error(number, unit, wanted)
    value = number * factor + wanted.offset(spelled)
    if not math.isfinite(value):
        raise QuantityError("not a finite number", "the number is too large to be stored")
    return value


def _unit_error(number: float, unit: str, wanted: Dimension) -> QuantityError:
    if not unit:
        return QuantityError("a number without a unit", _missing_unit_hint(number, wanted))
    others = [other for other in DIMENSIONS.values() if other.spelled(unit) in other.units]
    if wanted.name == "temperature_difference" and unit in ("degC", "°C"):
        return QuantityError("a temperature", "write a difference between temperatures in K")
    if others:
        return QuantityError(others[0].words)
    near = nearest_unit(unit, wanted)
    hint = f'did you mean "{number:g} {near}"?' if near else ""
    return QuantityError(f'the unknown unit "{unit}"', hint)


def _missing_unit_hint(number: float, wanted: Dimension) -> str:
    if wanted.name == FRACTION:
        return f'write "{number * 100 if 0 < abs(number) <= 1 else number:g} %"'
    return f'write the unit, as in "{number:g} {wanted.listed[0]}"'


def nearest_unit(unit: str, wanted: Dimension) -> str:
    """Find the accepted unit a misspelt one was most likely meant to be; "" when none is near."""
    folded = unit.lower().replace(" ", "")
    known = OTHER_SPELLINGS.get(folded, ())
    for meant in (*known, *wanted.units):
        if meant in wanted.units and (meant in known or meant.lower() == folded):
            return meant
    close = difflib.get_close_matches(unit, [name for name in wanted.units if name], n=1)
    return close[0] if close else ""
