"""Our own worded nine-point scales for what a wearer feels; nothing of them is validated.

They keep to the principles of ISO 10551 (the kinds of judgement: how it feels, whether that is
pleasant, what one would rather have, whether one would accept and could bear it) without any of its
text, which is protected. Anything that needs a licence stays outside: a team enters the figure of
its own licensed scale as a plain number.
"""

from __future__ import annotations

from dataclasses import dataclass

POINTS = 9


@dataclass(frozen=True)
class FeelingScale:
    """One scale.

    Attributes:
        question: As asked.
        lowest: Figure of the first point; the nine go up by one.
        words: Words of the nine points.
    """

    question: str
    lowest: int
    words: tuple[str, ...]

    @property
    def highest(self) -> int:
        """Figure of the last point."""
        return self.lowest + POINTS - 1

    def word(self, figure: int) -> str:
        """Words of a figure."""
        return self.words[figure - self.lowest]


FEELINGS: dict[str, FeelingScale] = {
    "warmth": FeelingScale(
        "How did your body feel at the worst moment?",
        -4,
        ("freezing", "cold", "cool", "fresh", "neither", "mild", "warm", "hot", "burning"),
    ),
    "rather": FeelingScale(
        "What would you rather have had then?",
        -4,
        (
            "as cold as can be",
            "much colder",
            "colder",
            "a touch colder",
            "just as it was",
            "a touch warmer",
            "warmer",
            "much warmer",
            "as warm as can be",
        ),
    ),
    "pleasant": FeelingScale(
        "Was that pleasant or unpleasant?",
        -4,
        (
            "unbearable",
            "very unpleasant",
            "unpleasant",
            "a little unpleasant",
            "neither",
            "a little pleasant",
            "pleasant",
            "very pleasant",
            "could not be better",
        ),
    ),
    "could_bear": FeelingScale(
        "How much longer could you have gone on like that?",
        0,
        (
            "as long as you like",
            "hours",
            "an hour",
            "half an hour",
            "a quarter of an hour",
            "ten minutes",
            "five minutes",
            "a minute",
            "not at all",
        ),
    ),
    "wetness": FeelingScale(
        "How wet was your skin?",
        0,
        (
            "dry",
            "dry but for the hands",
            "clammy",
            "damp",
            "damp all over",
            "wet in places",
            "wet",
            "dripping",
            "running down",
        ),
    ),
    "air": FeelingScale(
        "How was the air at your face?",
        0,
        (
            "fresh",
            "good",
            "fair",
            "a little stale",
            "stale",
            "heavy",
            "very heavy",
            "hard to breathe",
            "no air",
        ),
    ),
    "sight": FeelingScale(
        "How well could you see through the visor?",
        0,
        (
            "clear",
            "a breath of fog",
            "fog at the rim",
            "a quarter gone",
            "half gone",
            "a window left",
            "a slit left",
            "shapes only",
            "nothing",
        ),
    ),
    "effort": FeelingScale(
        "How hard was it at the worst moment?",
        0,
        (
            "nothing",
            "hardly anything",
            "easy",
            "steady",
            "hard",
            "very hard",
            "near my best",
            "my best",
            "beyond that",
        ),
    ),
}
"""Code to scale."""

TROUBLE = FeelingScale(
    "How much did it trouble you there?",
    0,
    (
        "not at all",
        "I noticed it",
        "a little",
        "somewhat",
        "it bothered me",
        "a lot",
        "hard to ignore",
        "hard to bear",
        "I had to stop",
    ),
)
"""For every symptom and every place of the body."""

SYMPTOMS: dict[str, str] = {
    "headache": "headache",
    "dizziness": "dizziness, faintness",
    "nausea": "nausea",
    "confusion": "muddled thinking",
    "cramp": "cramp",
    "shivering": "shivering",
    "breathlessness": "short of breath",
    "chest_pain": "pain or pressure in the chest",
    "numbness": "numbness, tingling",
    "eyes": "trouble with the eyes",
    "fear": "fear, closed in",
}
"""Code to words."""
