"""The key `console` of station.yaml: what the day's console serves, and to whom."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field

from neckring.station.conditions import ConditionKind, ConditionText
from neckring.station.fields import (
    Accepted,
    Code,
    Kind,
    Plain,
    Text,
    UnacceptableError,
    Word,
    did_you_mean,
)
from neckring.station.measured import Measured, left_out
from neckring.station.written import Complaint, Written
from neckring.units import Quantity, QuantityError, parse_quantity

Name = Annotated[str, Code()]
Part = Literal["lead", "tender", "medic", "trainer"]
Witness = Literal["lead", "tender", "medic"]
Condition = Annotated[ConditionText, ConditionKind()]

TURN_BACK, BATTERY = "turn back", "battery"
SHORTEST, LONGEST = 1.0, 24 * 3600.0


@dataclass(frozen=True)
class Lasts:
    """How long a reserve lasts.

    Attributes:
        text: As written.
        seconds: How long [s]; None when the plan or the live estimate says.
    """

    text: str
    seconds: float | None


def read_lasts(text: str) -> Lasts:
    """Read how long a reserve lasts.

    Raises:
        UnacceptableError: It is neither a time nor one of the two words.
    """
    if text in (TURN_BACK, BATTERY):
        return Lasts(text, None)
    try:
        quantity = parse_quantity(text, "time")
    except QuantityError as refused:
        near = did_you_mean(text, (TURN_BACK, BATTERY))
        raise UnacceptableError(refused.read_as, near or refused.hint) from None
    if quantity.spread != "exact":
        raise UnacceptableError("a value with a spread", "write one value")
    if not SHORTEST <= quantity.nominal <= LONGEST:
        raise UnacceptableError
    return Lasts(text, quantity.nominal)


@dataclass(frozen=True)
class LastsKind(Kind):
    """How long a reserve lasts."""

    def read(self, text: str, among: tuple[str, ...] = ()) -> Lasts:
        """Read it."""
        return read_lasts(text)

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """A time, or who else says it."""
        return (
            f"a time from 1 s to 24 h (in min, s or h); or {TURN_BACK} or {BATTERY}, which the "
            "plan and the live estimate say"
        )

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """Text with examples."""
        examples = ["40 min", TURN_BACK, BATTERY]
        return {"type": "string", "description": self.accepted(), "examples": examples}


class Calls(Written):
    """Symptom calls.

    Attributes:
        every: Time between two calls [s]; None for each run's own `call_every`.
        late_after: From when it is due until a call counts as missed [s].
        questions: What is asked, word for word.
    """

    every: Annotated[Quantity | None, Measured("time", "10 s", "60 min", spread=False)] = None
    late_after: Annotated[Quantity, Measured("time", "5 s", "10 min", spread=False)] = left_out(
        "1 min", "time"
    )
    questions: tuple[Annotated[str, Text(120)], ...] = Field(min_length=1, max_length=12)

    def disagreements(self) -> Iterable[Complaint]:
        """A question twice."""
        yield from _twice("questions", self.questions, "each question once")


class ReserveClock(Written):
    """What runs down once something is so.

    Attributes:
        code: Unique among the clocks.
        words: What it counts, in words: "on the pack".
        starts: It starts when this comes to hold of a wearer.
        ends: It ends when this holds.
        lasts: How long.
    """

    code: Name
    words: Annotated[str, Text(80)]
    starts: Condition
    ends: Condition
    lasts: Annotated[Lasts, LastsKind()]


class SecondPerson(Written):
    """Who makes the checks that are made by a second person as well.

    Attributes:
        people: How many beside the one who did it, each another person.
        roles: In which parts they may act.
    """

    people: Annotated[int, Plain(1, 3, whole=True)] = 1
    roles: tuple[Annotated[Witness, Word()], ...] = Field(
        default=("lead", "tender", "medic"), min_length=1, max_length=3
    )


def _usual() -> SecondPerson:
    return SecondPerson()


class Console(Written):
    """The console of a station.

    Attributes:
        procedures: Codes of the day's procedures, in order.
        cards: Codes of the emergency procedures.
        people: Code of each person to the part in which they act; codes, never names.
        second_person: Who makes the checks by a second person.
        calls: Symptom calls; None for none.
        clocks: Reserve clocks.
    """

    procedures: tuple[Name, ...] = Field(min_length=1, max_length=20)
    cards: tuple[Name, ...] = Field(default=(), max_length=20)
    people: dict[Name, Annotated[Part, Word()]] = Field(min_length=1, max_length=40)
    second_person: SecondPerson = Field(default_factory=_usual)
    calls: Calls | None = None
    clocks: tuple[ReserveClock, ...] = Field(default=(), max_length=12)

    def disagreements(self) -> Iterable[Complaint]:
        """Codes twice, nobody who leads, too few people for a second look."""
        yield from _twice("procedures", self.procedures, "each procedure once")
        yield from _twice("cards", self.cards, "each card once")
        codes = tuple(clock.code for clock in self.clocks)
        yield from _twice("clocks", codes, "each clock's code once", "code")
        if "lead" not in self.people.values():
            yield Complaint(("people",), "somebody who is lead", "nobody who is")
        able = sum(part in self.second_person.roles for part in self.people.values())
        if able <= self.second_person.people:
            wanted = self.second_person.people + 1
            yield Complaint(
                ("people",),
                f"at least {wanted} people in the parts that second_person names, one of whom "
                "does what another checks",
                f"{able} of them",
            )


def _twice(key: str, codes: tuple[str, ...], accepted: str, *inside: str) -> Iterable[Complaint]:
    for place, code in enumerate(codes):
        if code in codes[:place]:
            yield Complaint((key, place, *inside), accepted)
