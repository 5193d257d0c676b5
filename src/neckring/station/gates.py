"""Gates: what the medic measures before a run and after it, and what the team has signed for."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from neckring.station.fields import DAY, Code, Plain, Text, Word, YesNo
from neckring.station.measured import Measured
from neckring.station.measured_like import MeasuredLike, Tagged
from neckring.station.vitals import MEASURED_AS, UNITS, WORDS, Vital
from neckring.station.written import Complaint, Written
from neckring.units import Quantity, format_quantity

Name = Annotated[str, Code()]


class GateExample(Written):
    """A reading and what the rule makes of it, worked by hand; `check` works it out again."""

    reading: Annotated[Quantity, MeasuredLike()]
    stops: Annotated[bool, YesNo()]


class GateRule(Written):
    """One figure of a gate.

    Attributes:
        quantity: What is measured.
        stop_if: On which side of the value the gate is shut; the value itself passes.
        value: [SI]
        source: Where the figure comes from.
        verified: Whether it was read there.
        example: Worked by hand.
    """

    quantity: Annotated[Vital, Word()]
    stop_if: Annotated[Literal["above", "below"], Word()]
    value: Annotated[Quantity, MeasuredLike()]
    source: Annotated[str, Text()]
    verified: Annotated[bool, YesNo()]
    example: GateExample

    @model_validator(mode="before")
    @classmethod
    def _measure_by_quantity(cls, written: Any) -> Any:  # noqa: ANN401 - not yet validated
        """Tell the values which dimension they have: that of what is measured."""
        rule = MEASURED_AS.get(str(written.get("quantity"))) if isinstance(written, dict) else None
        if rule is None:
            return written
        tagged = {key: _tagged(key, "value", part, rule) for key, part in written.items()}
        example = written.get("example")
        if isinstance(example, dict):
            inner = example.items()
            tagged["example"] = {key: _tagged(key, "reading", part, rule) for key, part in inner}
        return tagged

    def stops(self, reading: float) -> bool:
        """Whether a reading shuts the gate.

        Args:
            reading: [SI]
        """
        value = self.value.nominal
        slack = 1e-9 * abs(value)
        return reading > value + slack if self.stop_if == "above" else reading < value - slack

    @property
    def words(self) -> str:
        """The rule as people say it: "heart rate above 100 bpm"."""
        dimension = MEASURED_AS[self.quantity].dimension
        shown = format_quantity(self.value.nominal, dimension, UNITS[self.quantity])
        return f"{WORDS[self.quantity]} {self.stop_if} {shown}"

    def disagreements(self) -> Iterator[Complaint]:
        """The worked example, recomputed: this catches an inverted or mistyped rule."""
        stops = self.stops(self.example.reading.nominal)
        if stops != self.example.stops:
            yield Complaint(
                ("example", "stops"),
                f"{'yes' if stops else 'no'}, as the rule is {self.words} and the reading is "
                f"{self.example.reading.text}",
                hint="either the rule or the example is wrong",
            )


def _tagged(key: str, wanted: str, part: object, rule: Measured) -> object:
    return Tagged(part, rule) if key == wanted and isinstance(part, str) else part


class OwnBaseline(Written):
    """How a reading is held against the person's own earlier ones.

    Attributes:
        fewest: Readings on the card from which a score is worked out; below, only the difference.
        beyond: Score from which the medic decides [standard deviations].
    """

    fewest: Annotated[int, Plain(3, 50, whole=True)] = 5
    beyond: Annotated[float, Plain(1, 6)] = 3.0


def _usual() -> OwnBaseline:
    return OwnBaseline()


class Gate(Written):
    """A gate that the team has signed for.

    Attributes:
        follows: Code of the published gate that it follows; None for the team's own.
        rules: Every figure of it; one that is crossed shuts it, one not measured keeps it shut.
        rest: How long to rest before measuring again [s].
        repeats: How often it may be measured again.
        refer_after: From the first reading on until somebody still shut out is handed on [s].
        questions: Asked by code; any yes is for the medic to decide.
        baseline: How a reading is held against the person's own.
        signed_by: Code.
        signed_on: Day.
    """

    follows: Name | None = None
    rules: tuple[GateRule, ...] = Field(min_length=1, max_length=20)
    rest: Annotated[Quantity, Measured("time", "1 min", "120 min", spread=False)]
    repeats: Annotated[int, Plain(0, 12, whole=True)] = 1
    refer_after: Annotated[Quantity | None, Measured("time", "5 min", "240 min", spread=False)] = (
        None
    )
    questions: dict[Name, Annotated[str, Text(160)]] = Field(default_factory=dict)
    baseline: OwnBaseline = Field(default_factory=_usual)
    signed_by: Name
    signed_on: Annotated[datetime.date, DAY]

    def disagreements(self) -> Iterator[Complaint]:
        """One quantity twice on the same side."""
        met: set[tuple[str, str]] = set()
        for place, rule in enumerate(self.rules):
            if (rule.quantity, rule.stop_if) in met:
                yield Complaint(("rules", place, "quantity"), "each quantity once on each side")
            met.add((rule.quantity, rule.stop_if))


class Gates(Written):
    """The two gates; either may be left out, and then nobody passes it by these pages.

    Attributes:
        entry: Before a run.
        release: After it.
    """

    entry: Gate | None = None
    release: Gate | None = None
