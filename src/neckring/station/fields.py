"""Kinds of value a key may hold: each turns text into a value or says what is accepted.

A kind stands in a field's annotation, `mass: Annotated[Quantity, Measured("mass", ...)]`, and
gives the schema its reading, its range, its words and its JSON Schema at once.
"""

from __future__ import annotations

import datetime
import difflib
import re
from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, get_args

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import PydanticCustomError, core_schema

from neckring.station.fault import listed
from neckring.units import QuantityError, parse_quantity

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
