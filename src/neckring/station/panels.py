"""panels.yaml: to whom a near miss is reported, and within which time."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field

from neckring.station.fields import DAY, Accepted, Code, Kind, Text, UnacceptableError, YesNo
from neckring.station.written import Complaint, Written

Counted = Literal["hours", "days", "business days"]
_FORM = re.compile(r"([0-9]{1,4}) (h|hours?|days?|business days?)")
_COUNTED: dict[str, Counted] = {"h": "hours", "hour": "hours", "day": "days"}
MOST: dict[Counted, int] = {"hours": 2400, "days": 400, "business days": 300}
EXAMPLE = "5 business days"


@dataclass(frozen=True)
class Within:
    """A time for reporting.

    Attributes:
        text: As written.
        number: How many.
        counted: Of what.
    """

    text: str
    number: int
    counted: Counted


def read_within(text: str) -> Within:
    """Read a time for reporting.

    Raises:
        UnacceptableError: It is none.
    """
    found = _FORM.fullmatch(" ".join(text.split()))
    if found is None:
        hint = "write the word after the figure" if text.strip().isdigit() else ""
        raise UnacceptableError(hint=hint)
    number, unit = int(found.group(1)), found.group(2).removesuffix("s")
    counted = _COUNTED.get(unit, "business days")
    if not 1 <= number <= MOST[counted]:
        raise UnacceptableError
    return Within(text, number, counted)


@dataclass(frozen=True)
class WithinKind(Kind):
    """A time for reporting."""

    def read(self, text: str, among: tuple[str, ...] = ()) -> Within:
        """Read it."""
        return read_within(text)

    def accepted(self, among: tuple[str, ...] = ()) -> Accepted:
        """The forms."""
        return 'hours, days or business days, as in "24 h", "14 days" or "5 business days"'

    def json_schema(self, among: tuple[str, ...] = ()) -> dict[str, Any]:
        """Text with examples."""
        examples = ["24 h", "14 days", EXAMPLE]
        return {"type": "string", "description": self.accepted(), "examples": examples}


class Panel(Written):
    """Whoever must be told.

    Attributes:
        words: What it is called.
        within: From when the near miss became known.
        source: Where its rule stands.
        verified: Whether the rule was read there.
    """

    words: Annotated[str, Text(80)]
    within: Annotated[Within, WithinKind()]
    source: Annotated[str, Text(200)]
    verified: Annotated[bool, YesNo()]


class PanelSheet(Written):
    """The file.

    Attributes:
        panels: By code.
        closed_on: Holidays, which are no business days; None when nobody has listed them.
    """

    about: Annotated[str | None, Text()] = None
    panels: dict[Annotated[str, Code()], Panel] = Field(min_length=1, max_length=40)
    closed_on: tuple[Annotated[datetime.date, DAY], ...] | None = None

    def disagreements(self) -> Iterable[Complaint]:
        """A holiday twice."""
        days = self.closed_on or ()
        for place, day in enumerate(days):
            if day in days[:place]:
                yield Complaint(("closed_on", place), "each day once")
