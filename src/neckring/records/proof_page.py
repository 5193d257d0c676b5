"""An examined procedure as one self-contained page: to be read, printed, ticked off and signed."""

from __future__ import annotations

import base64
import datetime
import hashlib
from collections.abc import Callable
from dataclasses import dataclass

from markupsafe import Markup

from neckring import __version__
from neckring.procedure.authoring import Path
from neckring.procedure.examination import Examination, Outcome, SlipStory
from neckring.procedure.risk import LIMITS
from neckring.procedure.signal_words import MEANING
from neckring.procedure.timing import LEARNING_RATES
from neckring.procedure.way_out import WayOut
from neckring.procedure.wording import WordingFinding
from neckring.records import proof_lanes, proof_rows, proof_words
from neckring.records.page_frame import Style, environment, style_named
from neckring.records.proof_words import no_longer, no_shorter
from neckring.station.loading import LoadedStation

Place = Callable[[Path, bool], str]
SHARES = (0.5, 0.95, 0.999, 1.0)


def render_page(
    examination: Examination,
    station: LoadedStation,
    place: Place | None = None,
    date: datetime.date | None = None,
) -> str:
    """Write an examination of a station's procedure as one HTML page.

    Args:
        examination: All that is known of the procedure.
        station: Whose procedure it is.
        place: As in `page`.
        date: Of the examination; today when left out.

    Returns:
        The whole HTML document.
    """
    sheet = station.station
    return page(examination, sheet.name, sheet.invented, date or datetime.date.today(), place)


def page(
    examination: Examination,
    station_name: str,
    invented: bool,
    date: datetime.date,
    place: Place | None = None,
) -> str:
    """Write an examination as one HTML page that needs nothing beside itself.

    The same examination always gives the same text.

    Args:
        examination: All that is known of the procedure.
        station_name: Name of the station.
        invented: Whether the station's data are made up.
        date: Of the examination.
        place: Turns keys and positions in a file, and whether it is the kit's, into file, line and
            column; without it the keys and positions are shown.

    Returns:
        The whole HTML document.
    """
    listed, columns = examination.listed, proof_rows.way_columns(examination.relief)
    name = f"{station_name}, procedure {listed.sheet.code}, mark {proof_words.mark_of(listed)}"
    return (
        environment()
        .get_template("proof.html.j2")
        .render(
            examination=examination,
            listed=listed,
            sheet=listed.sheet,
            kit=listed.ground.kit,
            station=station_name,
            invented=invented,
            date=date,
            version=__version__,
            style=_style(name),
            told=proof_words,
            numbers=_numbers(examination),
            rows=proof_rows.step_rows(examination),
            way_columns=columns,
            way_orders=proof_rows.way_orders(columns),
            story_rows=proof_rows.story_rows,
            gathered=proof_rows.gathered(examination.stories),
            told_at=proof_rows.told_at(examination.stories),
            bar=StoryBars(examination.stories),
            shares=SHARES,
            way_bar=WayBars(examination.ways),
            chain=[listed.procedure.steps[at].number for at in examination.timing.chain],
            lanes=proof_lanes.lane_picture(examination),
            lane_words=proof_lanes.lane_words(examination),
            practice=proof_lanes.practice_rows(examination),
            practice_rates=LEARNING_RATES,
            place=place or _keys,
            by_rule=_by_rule(examination.wording),
            signal_meaning=MEANING,
            limits=LIMITS,
        )
    )


def _style(name: str) -> Style:
    """The style of every page, with what only this one needs."""
    source, _, _ = environment().loader.get_source(environment(), "proof.css")  # type: ignore[union-attr]
    text = f"{style_named(name).text}{source}"
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return Style(Markup(text), digest)


def _keys(path: Path, in_kit: bool) -> str:
    """Where a finding stands when nobody can tell the line: a step by its printed number."""
    parts = [str(part + 1) if isinstance(part, int) else part for part in path]
    return f"{'kit' if in_kit else 'procedure'}: {' '.join(parts)}"


@dataclass(frozen=True)
class Number:
    """One of the numbers at the head of the page."""

    label: str
    value: str
    note: str
    crossed: bool = False


def _numbers(examination: Examination) -> list[Number]:
    counts, timing = examination.singles, examination.timing
    harm, latent = (counts.outcomes.get(each, 0) for each in (Outcome.HARM, Outcome.LATENT))
    signed = sum(1 for story in examination.stories if story.accepted)
    numbers = [
        Number("single slips tried", f"{counts.total:,}", "breakdowns of the kit among them"),
        Number(
            "do harm uncaught",
            f"{harm:,}",
            f"{proof_words.counted(signed, 'is', 'are')} accepted and signed" if signed else "",
            crossed=harm > 0,
        ),
        Number("stay hidden", f"{latent:,}", "the procedure ends otherwise", crossed=latent > 0),
    ]
    if examination.pairs is not None:
        harmful = examination.pairs.outcomes.get(Outcome.HARM, 0)
        note = f"of {examination.pairs.total:,} pairs"
        numbers.append(Number("pairs that do harm", f"{harmful:,}", note, crossed=harmful > 0))
    length = proof_words.time_words(timing.total.likely)
    note = f"19 of 20 runs within {no_shorter(timing.total.high)}"
    return [*numbers, Number("takes", length, note)]


@dataclass(frozen=True)
class StoryBars:
    """Bars from slip to harm, all on one scale.

    Attributes:
        stories: All that are shown.
    """

    stories: tuple[SlipStory, ...]

    @property
    def longest(self) -> float:
        """The time of the longest bar [s]."""
        return max((story.seconds for story in self.stories), default=0.0)

    def width(self, story: SlipStory) -> float:
        """Length of a bar, of 300."""
        return 300.0 * story.seconds / self.longest if self.longest > 0.0 else 0.0

    def words(self, story: SlipStory, timed: bool) -> str:
        """What the bar says.

        Args:
            story: Whose bar.
            timed: Whether the rule that breaks allows some time.
        """
        if story.outcome is Outcome.LATENT:
            return "Nothing shows it before the procedure ends."
        if story.seconds <= 0.0:
            return "Harm comes with the slip itself, at once."
        said = f"{no_longer(story.seconds)} from the slip to the harm, acts as long as is likely"
        if timed:
            return f"{said}. The rule's own time is counted with each act as long as at most."
        return f"{said}."


@dataclass(frozen=True)
class WayBars:
    """Marks of the times of all ways out, on one scale.

    Attributes:
        ways: All that are shown.
    """

    ways: tuple[WayOut, ...]

    def marks(self, way: WayOut) -> tuple[float, ...]:
        """Where half, 95 % and all that have a way out lie, of 100."""
        last = max((_slowest(each) for each in self.ways), default=0.0)
        if last <= 0.0:
            return ()
        times = (way.quantile(0.5), way.quantile(0.95), _slowest(way))
        return tuple(100.0 * min(time, _slowest(way)) / last for time in times)


def _slowest(way: WayOut) -> float:
    """Longest time [s] among the states that have a way at all."""
    return float(max((seconds for seconds, _ in way.longest_seconds), default=0))


def _by_rule(findings: tuple[WordingFinding, ...]) -> dict[str, list[WordingFinding]]:
    found: dict[str, list[WordingFinding]] = {}
    for finding in findings:
        found.setdefault(finding.rule.value, []).append(finding)
    return found
