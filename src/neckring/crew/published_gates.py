"""Published gates side by side: they contradict one another, so only a signed one is applied.

These figures decide nothing. "as quoted" means a page that quotes the source was read, not the
source itself; "from memory" means nothing was read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Seen = Literal["as quoted", "from memory"]
When = Literal["entry", "release"]


@dataclass(frozen=True)
class Figure:
    """One published figure.

    Attributes:
        quantity: What is measured.
        side: On which side the gate is shut.
        text: The value as people write it, as in "100 bpm".
    """

    quantity: str
    side: Literal["above", "below"]
    text: str


@dataclass(frozen=True)
class PublishedGate:
    """A gate as somebody published it.

    Attributes:
        code: What a signed gate's `follows` names.
        words: Whose.
        when: Before a run or after it.
        figures: Its figures.
        besides: What it says besides.
        source: Where.
        seen: How far it was read.
    """

    code: str
    words: str
    when: When
    figures: tuple[Figure, ...]
    besides: str
    source: str
    seen: Seen


PUBLISHED: tuple[PublishedGate, ...] = (
    PublishedGate(
        "hazmat_entry",
        "hazardous-materials teams, before entry",
        "entry",
        (
            Figure("heart_rate", "above", "100 bpm"),
            Figure("systolic", "above", "150 mmHg"),
            Figure("systolic", "below", "90 mmHg"),
            Figure("diastolic", "above", "90 mmHg"),
            Figure("diastolic", "below", "60 mmHg"),
            Figure("temperature", "above", "37.2 degC"),
        ),
        "may enter when all is normal after 5 min of rest or more",
        "an incident page for such teams; 99 degF printed",
        "as quoted",
    ),
    PublishedGate(
        "impermeable_garment",
        "four US agencies, impermeable clothing",
        "entry",
        (Figure("temperature", "above", "38.1 degC"),),
        "by mouth; 100.6 degF printed",
        "NIOSH, OSHA, USCG and EPA 1985, as quoted by two training pages",
        "as quoted",
    ),
    PublishedGate(
        "older_hazmat_entry",
        "older practice of hazardous-materials teams",
        "entry",
        (
            Figure("breathing_rate", "above", "24 1/min"),
            Figure("diastolic", "above", "105 mmHg"),
            Figure("temperature", "above", "37.5 degC"),
        ),
        "also a pulse above 70 % of 220 less age; a change of body mass above 3 %",
        "practice of the years of NFPA 471",
        "from memory",
    ),
    PublishedGate(
        "city_rehab",
        "one city's fire department, after work",
        "release",
        (
            Figure("heart_rate", "above", "100 bpm"),
            Figure("temperature", "above", "37.8 degC"),
            Figure("saturation", "below", "95 %"),
            Figure("systolic", "above", "160 mmHg"),
            Figure("diastolic", "above", "100 mmHg"),
        ),
        "after a rest of 10 to 20 min; 100 degF printed",
        "standing order of a US city, as quoted",
        "as quoted",
    ),
    PublishedGate(
        "county_rehab",
        "one county's ambulance service, after work",
        "release",
        (
            Figure("heart_rate", "above", "110 bpm"),
            Figure("temperature", "above", "38.3 degC"),
            Figure("saturation", "below", "90 %"),
            Figure("systolic", "above", "200 mmHg"),
            Figure("diastolic", "above", "110 mmHg"),
            Figure("carbon_monoxide", "above", "10 %"),
        ),
        "checked every 10 min, taken to hospital after 30 min; 101 degF printed",
        "protocol of a US county, as quoted",
        "as quoted",
    ),
)


@dataclass(frozen=True)
class Row:
    """One quantity and side, with what each published gate says.

    Attributes:
        quantity: What.
        side: On which side it stops.
        texts: Code of the gate to its value.
        conflict: Whether any two of them differ.
    """

    quantity: str
    side: str
    texts: Mapping[str, str]
    conflict: bool


def side_by_side(when: When) -> tuple[Row, ...]:
    """What the published gates of one kind say, quantity by quantity."""
    rows: dict[tuple[str, str], dict[str, str]] = {}
    for gate in PUBLISHED:
        if gate.when == when:
            for figure in gate.figures:
                rows.setdefault((figure.quantity, figure.side), {})[gate.code] = figure.text
    return tuple(
        Row(quantity, side, texts, len(set(texts.values())) > 1)
        for (quantity, side), texts in rows.items()
    )


def codes_for(when: When) -> tuple[str, ...]:
    """Codes of the published gates of one kind."""
    return tuple(gate.code for gate in PUBLISHED if gate.when == when)
