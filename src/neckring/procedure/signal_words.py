"""Which signal word a warning carries: it follows from the harm of the rule that would break."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from neckring.station.kit import Rule


class SignalWord(StrEnum):
    """The four words, the gravest first.

    Source: ANSI Z535.4-2007, 4.14 (definitions seen as quoted by others); ISO 3864-2 (from memory).
    """

    DANGER = "DANGER"
    WARNING = "WARNING"
    CAUTION = "CAUTION"
    NOTICE = "NOTICE"


MEANING = {
    SignalWord.DANGER: "death or serious injury follows, if it is not avoided",
    SignalWord.WARNING: "death or serious injury can follow, if it is not avoided",
    SignalWord.CAUTION: "a lesser injury can follow, if it is not avoided",
    SignalWord.NOTICE: "damage can follow, but no injury",
}
"""What each word says, for the legend of a sheet."""

RANK = {word: place for place, word in enumerate(SignalWord)}


def signal_word(rule: Rule, *, uncaught: bool) -> SignalWord:
    """The word for a warning of a rule.

    The standard parts DANGER (will) from WARNING (could). Here harm follows for certain when the
    rule allows no time and one slip alone breaks it before any check: that is our reading.

    Args:
        rule: The rule that would break.
        uncaught: Whether a single slip breaks it and no check stands between.

    Source: ANSI Z535.4-2007, 4.14 (definitions seen as quoted by others); ISO 3864-2 (from memory).
    """
    match rule.harm:
        case "death" | "serious injury":
            at_once = uncaught and rule.longer_than is None
            return SignalWord.DANGER if at_once else SignalWord.WARNING
        case "injury":
            return SignalWord.CAUTION
        case "damage":
            return SignalWord.NOTICE


@dataclass(frozen=True)
class Caution:
    """A warning as it stands before its step.

    Attributes:
        word: How grave.
        rule: Code of the rule.
        hazard: What the danger is, as a sentence.
        consequence: What happens, as a sentence.
        avoid: How it is avoided, as a sentence.
    """

    word: SignalWord
    rule: str
    hazard: str
    consequence: str
    avoid: str

    @property
    def text(self) -> str:
        """Hazard, consequence and avoidance, in this order."""
        return f"{self.hazard} {self.consequence} {self.avoid}"


def caution(code: str, rule: Rule, *, uncaught: bool) -> Caution:
    """The warning of a rule.

    Args:
        code: Of the rule.
        rule: The rule.
        uncaught: Whether a single slip breaks it and no check stands between.

    Source: ANSI Z535.6 (from memory): a message states hazard, consequence and avoidance.
    """
    return Caution(
        signal_word(rule, uncaught=uncaught),
        code,
        _sentence(rule.hazard),
        _sentence(rule.consequence),
        _sentence(rule.avoid),
    )


def gravest_first(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """Warnings in the order in which they stand; equally grave ones stay as they were.

    Source: ANSI Z535.6 (from memory).
    """
    return tuple(sorted(cautions, key=lambda each: RANK[each.word]))


def _sentence(text: str) -> str:
    """Text with a capital at its start and a stop at its end."""
    tidy = " ".join(text.split())
    stop = "" if tidy.endswith((".", "!", "?")) else "."
    return f"{tidy[:1].upper()}{tidy[1:]}{stop}"
