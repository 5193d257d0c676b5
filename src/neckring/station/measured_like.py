"""A quantity whose dimension follows from another key: a limit's value from what it limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pydantic_core import PydanticCustomError

from neckring.station.fields import Accepted, Kind, UnacceptableError
from neckring.station.measured import Measured


@dataclass(frozen=True)
class Tagged:
    """Text with the rule it must obey."""

    text: str
    rule: Measured


@dataclass(frozen=True)
class MeasuredLike(Kind):
    """A quantity of the dimension of the limited quantity."""

    def read(self, text: str, among: tuple[str, ...] = ()) -> object:
        """Without a valid `quantity` beside it the value cannot be judged.

        The fault of `quantity` is told by itself, so the value is let pass.
        """
        return text

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """What a value of unknown dimension looks like."""
        return "a value with the unit of the limited quantity"

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """Text."""
        return {"type": "string", "description": self.accepted()}

    def _value(self, value: object, among: tuple[str, ...]) -> object:
        if not isinstance(value, Tagged):
            return super()._value(value, among)
        try:
            return value.rule.read(value.text)
        except UnacceptableError as refused:
            said = {
                "read_as": refused.read_as,
                "hint": refused.hint,
                "accepted": value.rule.accepted(),
            }
            raise PydanticCustomError("unacceptable", "not accepted", said) from None
