"""Kinds of value a key may hold: each turns text into a value or says what is accepted.

A kind stands in a field's annotation, `mass: Annotated[Quantity, Measured("mass", ...)]`, and
gives the schema its reading, its range, its words and its JSON Schema at once.
"""

from __future__ import annotations

import datetime
import difflib
import re
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Self, get_args

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    model_validator,
)
from pydantic_core import PydanticCustomError, core_schema

from neckring.station.fault import listed
from neckring.units import (
    DIMENSIONS,
    Quantity,
    QuantityError,
    accepted_units,
    format_quantity,
    parse_quantity,
)

Accepted = str
"""What a key accepts, in words."""


class UnacceptableError(ValueError):
    """Text that a kind does not accept; says what it was taken for and what to write instead.

    Attributes:
        at: Number of the letter at fault, from 0, where a long text is wrong in one place.
    """

    def __init__(self, read_as: str = "", hint: str = "", at: int = 0) -> None:
        super().__init__(read_as)
        self.read_as = read_as
        self.hint = hint
        self.at = at


@dataclass(frozen=True)
class Complaint:
    """One contradiction inside a group of keys.

    Attributes:
        keys: Path from the group to the value at fault.
        read: What was read; the value's own text when empty.
        accepted: What is accepted.
        hint: What to do; may be empty.
    """

    keys: tuple[str | int, ...]
    accepted: str
    read: str = ""
    hint: str = ""


class Written(BaseModel):
    """Base of everything people write: unknown keys are refused, nothing changes afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def disagreements(self) -> Iterable[Complaint]:
        """What in it contradicts itself, although every single value is acceptable."""
        return ()

    @model_validator(mode="after")
    def _agree(self) -> Self:
        complaints = tuple(self.disagreements())
        if complaints:
            raise PydanticCustomError("disagreement", "disagrees", {"complaints": complaints})
        return self


class Kind(ABC):
    """One kind of value."""

    @abstractmethod
    def read(self, text: str, among: tuple[str, ...]) -> object:
        """Turn text into the value.

        Args:
            text: As written.
            among: The words of the annotation when it is a choice of words.

        Raises:
            UnacceptableError: The text is not of this kind.
        """

    @abstractmethod
    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """Say in words what is accepted."""

    @abstractmethod
    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """JSON Schema of the value as an editor sees it."""

    def __get_pydantic_core_schema__(
        self,
        source: Any,  # noqa: ANN401 - an annotation
        _handler: GetCoreSchemaHandler,
    ) -> core_schema.CoreSchema:
        """Let pydantic read the value by this kind."""
        among = words_of(source)
        return core_schema.no_info_plain_validator_function(
            lambda value: self._value(value, among), metadata={"words": among}
        )

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, _handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Let pydantic describe the value by this kind."""
        return self.json_schema(schema.get("metadata", {}).get("words", ()))

    def _value(self, value: object, among: tuple[str, ...]) -> object:
        if not isinstance(value, str):
            if isinstance(value, (dict, list)):
                raise PydanticCustomError("unacceptable", "not a single value", {"read_as": ""})
            return value
        try:
            return self.read(value, among)
        except UnacceptableError as refused:
            said = {"read_as": refused.read_as, "hint": refused.hint, "at": refused.at}
            raise PydanticCustomError("unacceptable", "not accepted", said) from None


def words_of(annotation: Any) -> tuple[str, ...]:  # noqa: ANN401 - an annotation
    """The words of a choice, flattened through unions; empty for other annotations."""
    found: list[str] = []
    for part in get_args(annotation):
        found.extend([part] if isinstance(part, str) else words_of(part))
    return tuple(found)


@dataclass(frozen=True)
class Measured(Kind):
    """A quantity with its unit and physical range.

    Attributes:
        dimension: A key of `neckring.units.DIMENSIONS`.
        lowest: Smallest accepted value, as text.
        highest: Largest accepted value, as text.
        spread: Whether a spread may be written.
    """

    dimension: str
    lowest: str
    highest: str
    spread: bool = True

    @cached_property
    def bounds(self) -> tuple[float, float]:
        """Smallest and largest accepted value [SI]."""
        return (
            parse_quantity(self.lowest, self.dimension).nominal,
            parse_quantity(self.highest, self.dimension).nominal,
        )

    def read(self, text: str, among: tuple[str, ...] = ()) -> Quantity:
        """Read the quantity and hold it against its range."""
        try:
            quantity = parse_quantity(text, self.dimension)
        except QuantityError as refused:
            raise UnacceptableError(refused.read_as, refused.hint) from None
        self._refuse_spread(quantity)
        self._refuse_outside(quantity)
        return quantity

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """For example "a mass from 30 kg to 200 kg (in kg, g or lb)"."""
        known = DIMENSIONS[self.dimension]
        units = accepted_units(self.dimension)
        unit_words = f" (in {units})" if units else ""
        exact = "" if self.spread else ", without a spread"
        return f"{known.words} from {self.lowest} to {self.highest}{unit_words}{exact}"

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """Text, or a number when the quantity has no unit."""
        if self.dimension == "number":
            return {"type": ["number", "string"], "description": self.accepted()}
        return {"type": "string", "pattern": "[0-9]", "description": self.accepted()}

    def _refuse_spread(self, quantity: Quantity) -> None:
        if not self.spread and quantity.spread != "exact":
            raise UnacceptableError("a value with a spread", "write one value")

    def _refuse_outside(self, quantity: Quantity) -> None:
        low, high = self.bounds
        slack = 1e-9 * max(abs(low), abs(high))
        if not low - slack <= quantity.nominal <= high + slack:
            raise UnacceptableError(hint=self._percent_hint(quantity))
        if quantity.low < low - slack or quantity.high > high + slack:
            reach = f"{self._shown(quantity.low)} to {self._shown(quantity.high)}"
            raise UnacceptableError(
                f"a spread that reaches from {reach}", f'write a range: "{self._within(quantity)}"'
            )

    def _percent_hint(self, quantity: Quantity) -> str:
        share = quantity.nominal / 100.0
        if self.dimension == "fraction" and self.bounds[0] <= share <= self.bounds[1]:
            return f'did you mean "{self._shown(share)}"?' if share > 0.0 else ""
        return ""

    def _within(self, quantity: Quantity) -> str:
        low, high = self.bounds
        return f"{self._shown(max(low, quantity.low))}..{self._shown(min(high, quantity.high))}"

    def _shown(self, value: float) -> str:
        return format_quantity(value, self.dimension)


def left_out(text: str, dimension: str) -> Quantity:
    """What a key counts as when it is left out: always the very same object.

    Args:
        text: The default, as it would be written.
        dimension: A key of `neckring.units.DIMENSIONS`.
    """
    default = parse_quantity(text, dimension)
    # A factory keeps the default out of the JSON Schema, where it would not be text.
    return Field(default_factory=lambda: default)


@dataclass(frozen=True)
class Word(Kind):
    """One of the words of the field's `Literal`.

    Attributes:
        also: What else the key accepts, for messages.
    """

    also: str = ""

    def read(self, text: str, among: tuple[str, ...]) -> str:
        """Take the word as it stands."""
        if text not in among:
            raise UnacceptableError(hint=did_you_mean(text, among))
        return text

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """The words."""
        return listed([*among, self.also] if self.also else among)

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """The words as an enumeration; `on` and `off` also as older editors read them."""
        booleans = [True, False] if "on" in among else []
        return {"enum": [*among, *booleans]}


@dataclass(frozen=True)
class YesNo(Kind):
    """Yes or no."""

    def read(self, text: str, among: tuple[str, ...] = ()) -> bool:
        """Read yes, no, true or false."""
        meaning = {"yes": True, "true": True, "no": False, "false": False}.get(text)
        if meaning is None:
            near = {"on": "yes", "y": "yes", "off": "no", "n": "no"}.get(text.lower(), text.lower())
            known = near in ("yes", "no", "true", "false")
            raise UnacceptableError(hint=f'write "{near}"' if known else "")
        return meaning

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """Yes or no."""
        return "yes or no"

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """The words, and what older editors make of them."""
        return {"enum": ["yes", "no", "true", "false", True, False]}


@dataclass(frozen=True)
class Plain(Kind):
    """A number without a unit: whole when `whole`."""

    lowest: float
    highest: float
    whole: bool = False

    def read(self, text: str, among: tuple[str, ...] = ()) -> float:
        """Read the number and hold it against its range."""
        try:
            value = parse_quantity(text, "number")
        except QuantityError as refused:
            raise UnacceptableError(refused.read_as, refused.hint) from None
        if value.spread != "exact":
            raise UnacceptableError("a value with a spread", "write one value")
        if not self.lowest <= value.nominal <= self.highest:
            raise UnacceptableError
        if self.whole and value.nominal != int(value.nominal):
            raise UnacceptableError
        return int(value.nominal) if self.whole else value.nominal

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """For example "a whole number from 1 to 8"."""
        sort = "a whole number" if self.whole else "a plain number"
        return f"{sort} from {self.lowest:g} to {self.highest:g}"

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """A number with its range."""
        sort = "integer" if self.whole else "number"
        return {"type": sort, "minimum": self.lowest, "maximum": self.highest}


@dataclass(frozen=True)
class Text(Kind):
    """Any words, at most `longest` letters."""

    longest: int = 500

    def read(self, text: str, among: tuple[str, ...] = ()) -> str:
        """Take the text without the space around it."""
        if len(text) > self.longest:
            raise UnacceptableError(f"a text of {len(text)} letters", "shorten it")
        if not text.strip():
            raise UnacceptableError("nothing")
        return text.strip()

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """Some words."""
        return f"some words, at most {self.longest} letters"

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """Text of some length."""
        return {"type": "string", "minLength": 1, "maxLength": self.longest}


CODE = re.compile(r"[A-Za-z][A-Za-z0-9_-]{0,31}")


@dataclass(frozen=True)
class Code(Kind):
    """A short name other files refer to.

    Attributes:
        also: What else the key accepts, for messages.
    """

    also: str = ""

    def read(self, text: str, among: tuple[str, ...] = ()) -> str:
        """Take the code as it stands."""
        if not CODE.fullmatch(text):
            better = re.sub(r"[^A-Za-z0-9_-]+", "-", text.strip())[:32]
            raise UnacceptableError(hint=f'as in "{better}"' if CODE.fullmatch(better) else "")
        return text

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """What a code looks like."""
        form = "a code: a letter, then letters, figures, - or _, at most 32"
        return f"{form}; or {self.also}" if self.also else form

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """Text of that form."""
        return {"type": "string", "pattern": f"^{CODE.pattern}$"}


@dataclass(frozen=True)
class Formed(Kind):
    """Text in a fixed form, read by a function: a date, a clock time, a time zone."""

    reader: Callable[[str], object]
    form: str
    example: str

    def read(self, text: str, among: tuple[str, ...] = ()) -> object:
        """Read the text by the function."""
        try:
            return self.reader(text)
        except UnacceptableError:
            raise
        except ValueError:
            raise UnacceptableError from None

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """The form with an example."""
        return f'{self.form}, as in "{self.example}"'

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """Text with an example."""
        return {"type": "string", "description": self.accepted(), "examples": [self.example]}


def _read_day(text: str) -> datetime.date:
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
        raise UnacceptableError
    return datetime.date.fromisoformat(text)


def _read_clock(text: str) -> datetime.time:
    if not re.fullmatch(r"[0-9]{1,2}:[0-9]{2}", text):
        raise UnacceptableError
    hours, minutes = text.split(":")
    return datetime.time(int(hours), int(minutes))


DAY = Formed(_read_day, "a date as year-month-day", "2026-11-28")
CLOCK = Formed(_read_clock, "a clock time from 00:00 to 23:59", "10:00")


def did_you_mean(text: str, among: tuple[str, ...]) -> str:
    """Name the nearest valid spelling; "" when none is near."""
    folded = {word.lower(): word for word in among}
    if text.lower() in folded:
        return f'did you mean "{folded[text.lower()]}"?'
    near = difflib.get_close_matches(text.lower(), list(folded), n=1, cutoff=0.6)
    return f'did you mean "{folded[near[0]]}"?' if near else ""
