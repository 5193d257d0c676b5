"""What a look ahead found: harm against help for every failure at every minute.

Plain frozen records, SI inside, made once and only read afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from neckring.outing.findings import Verdict

FloatArray = NDArray[np.float64]
Relief = Literal["fresh air at the face", "cooling", "out of the suit"]
# Quantiles that every clock is reported at, beside the one that the policy asks for.
QUANTILES = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class Moment:
    """One failure at one instant, as it is told: what fails, when, what is crossed, by how much.

    Attributes:
        time: From first dressing [s].
        place: Code of the place, or of the place walked to.
        limit: Quantity whose limit leaves the least slack.
        relief: What would end the harm.
        harm: From the failure to the limit [s]; infinite when not crossed within what is computed.
        help: From the failure to the relief [s].
        slack: Harm less help, at the policy's confidence [s].
    """

    time: float
    place: str
    limit: str
    relief: Relief
    harm: float
    help: float
    slack: float


@dataclass(frozen=True)
class FailureFinding:
    """One failure held against help at every minute at which it can happen.

    Attributes:
        code: For files and other programs.
        words: In a sentence: "the fans stop".
        reserve: Slack that the policy keeps free for it at the worst moment [s].
        instants: Whole minutes from first dressing [s], shape (instants,); rising, with gaps where
            the failure cannot happen.
        harm: Shape (3, instants), at QUANTILES [s]; infinite where not crossed in what is computed.
        help: Same.
        slack: Same.
        slack_at_confidence: The slack that is kept at the policy's confidence [s], (instants,).
        slack_as_written: With every quantity at its nominal value [s], shape (instants,).
        kept: Share of members whose slack keeps the reserve, shape (instants,).
        shortest_harm: Limit quantity to its shortest median harm clock over all instants [s].
        worst: The moment that leaves the least slack beyond its reserve.
    """

    code: str
    words: str
    reserve: float
    instants: FloatArray
    harm: FloatArray
    help: FloatArray
    slack: FloatArray
    slack_at_confidence: FloatArray
    slack_as_written: FloatArray
    kept: FloatArray
    shortest_harm: dict[str, float]
    worst: Moment


@dataclass(frozen=True)
class LimitChance:
    """How likely a limit is crossed when nothing fails, and when.

    Attributes:
        quantity: Of the limit.
        action: What the sheet demands.
        value: The limit [SI].
        direction: Whether it is crossed above or below.
        chance: Share of members that cross it.
        reached: Time from first dressing at QUANTILES [s], infinite where it is not, shape (3,).
    """

    quantity: str
    action: str
    value: float
    direction: Literal["above", "below"]
    chance: float
    reached: FloatArray


@dataclass(frozen=True)
class Doubt:
    """How much of the doubt in the worst slack one uncertain input carries.

    Attributes:
        label: In words: "the garment's conductance".
        written: Its value with its spread as written: "22 W/K +/- 6".
        share: Total-order index, 0..1.
        low: Lower end of its 90 % interval.
        high: Upper end of its 90 % interval.
        measurable: Whether measuring it is possible before the run.
    """

    label: str
    written: str
    share: float
    low: float
    high: float
    measurable: bool


@dataclass(frozen=True)
class Answer:
    """One inverse question, solved: the least or most of something that still is a go.

    Attributes:
        code: "outing", "ice", "reservoir", "flow", "tender", "pack".
        question: In words: "the least ice".
        present: As it is planned, with unit, in words.
        answer: What is needed, with unit, in words; says so when nothing within range suffices.
        enough: Whether the run is a go with it.
        changed: Whether it differs from what is planned.
    """

    code: str
    question: str
    present: str
    answer: str
    enough: bool
    changed: bool


@dataclass(frozen=True)
class Outlook:
    """Harm against help over the whole run.

    Attributes:
        members: Drawn at most.
        seed: Of the draw.
        confidence: That the policy asks for.
        reserve: Slack kept free, heat and the rest [s].
        air_reserve: Slack kept free where the air fails [s].
        computed: Slack beyond the reserve up to which clocks are computed [s]; more is infinite.
        kept: Share of members in which help comes in time with the reserve to spare, whatever of
            the failures strikes at whatever minute.
        verdict: From harm against help alone.
        sentence: What fails, when, what is crossed first, by how much.
        turn_back: Last minute at which starting home keeps the reserve [s from first dressing];
            None when there is none.
        failures: Worst first.
        chances: Of each limit when nothing fails.
        doubts: Greatest first.
        answers: Inverse questions that were asked.
        advice: Sentences: what to measure, what to change.
    """

    members: int
    seed: int
    confidence: float
    reserve: float
    air_reserve: float
    computed: float
    kept: float
    verdict: Verdict
    sentence: str
    turn_back: float | None
    failures: tuple[FailureFinding, ...]
    chances: tuple[LimitChance, ...]
    doubts: tuple[Doubt, ...]
    answers: tuple[Answer, ...]
    advice: tuple[str, ...]
