"""Label sheets: letters as high as the distance asks, mirrored for a hand mirror, tags for lines.

A mirrored label and its copy lie on both sides of the middle of the page: folded there and held
against the light, one covers the other. That is the proof that the mirroring is right.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from neckring.records.letter_height import CAPITALS_PER_SIZE, FACTORS, PREFERRED, label_height
from neckring.records.sheet_press import Head, font_file
from neckring.station.fault import Fault, quoted
from neckring.station.kit import Kit
from neckring.station.labels import Label, Tag
from neckring.station.nodes import Node, path_words

if TYPE_CHECKING:
    from matplotlib.ft2font import FT2Font

WIDEST = 0.124
"""Room for the letters of one copy, on half a page of A4 laid across [m]."""

HIGHEST = 0.110
"""[m]"""

LINE_STEP = 1.7
"""From one line of letters to the next, of their height."""

TAG_WORDS = 0.052
"""Room for the words of a tag [m]."""

TAG_LINES = 3
"""Lines of words that a tag has room for."""

MIRROR = "wearer in a mirror"

PALETTE = {
    "black": "#000000",
    "orange": "#E69F00",
    "sky blue": "#56B4E9",
    "bluish green": "#009E73",
    "yellow": "#F0E442",
    "blue": "#0072B2",
    "vermillion": "#D55E00",
    "reddish purple": "#CC79A7",
}
"""Source: Okabe and Ito 2008, Color Universal Design (from memory)."""

COLOURS_COLLIDE = (
    "Colour comes last, since standards contradict one another: blue marks compressed air in ANSI "
    "A13.1, but fresh water in ISO 14726 (from memory); BS 1710 marks water green and air light "
    "blue (from memory). One man in twelve sees colours otherwise. Letter, shape, rings and keyed "
    "connector tell lines apart; ask which standard your site keeps to before you print in colour."
)


@dataclass(frozen=True)
class PrintedLabel:
    """A label as it is printed.

    Attributes:
        name: In the kit's file.
        lines: The letters, line by line.
        millimetres: Height of the capitals.
        mirrored: Whether a mirrored copy is printed.
        caption: For whom, and how the height came about.
    """

    name: str
    lines: tuple[str, ...]
    millimetres: float
    mirrored: bool
    caption: str


@dataclass(frozen=True)
class PrintedTag:
    """A tag as it is printed.

    Attributes:
        letter: The first thing that is read.
        shape: The second.
        rings: The third.
        connector: What keys it.
        lines: What the line carries.
        flow: Which way it flows; empty for neither.
        colour: Its name.
        paint: The colour itself.
        millimetres: Height of the words' capitals.
        caption: How the height came about.
        copies: How many are printed.
    """

    letter: str
    shape: str
    rings: int
    connector: str
    lines: tuple[str, ...]
    flow: str
    colour: str
    paint: str
    millimetres: float
    caption: str
    copies: int


@dataclass(frozen=True)
class LabelSheet:
    """The labels and tags of a kit.

    Attributes:
        head: What stands above and below.
        labels: To be cut out.
        tags: To be cut out.
        colours: Why colour comes last.
        angle: That letters fill at the eye, in minutes of arc.
    """

    head: Head
    labels: tuple[PrintedLabel, ...]
    tags: tuple[PrintedTag, ...]
    colours: str
    angle: float


def label_sheet(kit: Kit, head: Head) -> LabelSheet:
    """The label sheet of a kit whose labels have no fault.

    Args:
        kit: With labels or tags.
        head: Its marks.
    """
    return LabelSheet(
        replace(head, title=f"Labels: {kit.title}", kind="Label sheet"),
        tuple(_label(kit, name, label) for name, label in kit.labels.items()),
        tuple(_tag(tag) for tag in kit.tags.values()),
        COLOURS_COLLIDE,
        PREFERRED,
    )


def label_faults(kit: Kit, tree: Node) -> Iterator[Fault]:
    """Labels and tags that do not fit on their paper.

    Args:
        kit: Whose labels.
        tree: As written.
    """
    for name, label in kit.labels.items():
        height = label_height(label.distance.nominal, label.seen_through)
        lines = in_lines(label.text, height, WIDEST)
        if lines is None or len(lines) * LINE_STEP * height > HIGHEST:
            yield _too_large(tree, ("labels", name, "text"), label.text, height, WIDEST)
    for name, tag in kit.tags.items():
        height = label_height(tag.distance.nominal, tag.seen_through)
        lines = in_lines(tag.words, height, TAG_WORDS)
        if lines is None or len(lines) > TAG_LINES:
            yield _too_large(tree, ("tags", name, "words"), tag.words, height, TAG_WORDS)


def _too_large(tree: Node, path: tuple[str, ...], text: str, height: float, width: float) -> Fault:
    _, spot = tree.find(path)
    return Fault(
        spot.file,
        spot.line,
        spot.column,
        path_words(path),
        quoted(text),
        f"words that fit on {1000 * width:.0f} mm in letters {1000 * height:.1f} mm high",
        "write less, or let it be read from nearer",
    )


def in_lines(text: str, height: float, width: float) -> tuple[str, ...] | None:
    """Words set into lines; None when a single word is too wide.

    Args:
        text: The words.
        height: Of capitals [m].
        width: At most [m].
    """
    lines: list[str] = []
    for word in text.split():
        if text_width(word, height) > width:
            return None
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, height) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(lines)


def text_width(text: str, height: float) -> float:
    """Width of letters in bold type [m].

    Args:
        text: One line.
        height: Of capitals [m].
    """
    return sum(_advance(letter) for letter in text) * height / CAPITALS_PER_SIZE


@lru_cache(maxsize=512)
def _advance(letter: str) -> float:
    """Width of a letter, of the size of type."""
    from matplotlib.ft2font import LoadFlags

    glyph = _font().load_char(ord(letter), flags=LoadFlags.NO_HINTING)
    return float(glyph.linearHoriAdvance) / 65536.0 / _SIZE


_SIZE = 100.0
"""Of the type that is measured [points]."""


@lru_cache(maxsize=1)
def _font() -> FT2Font:
    from matplotlib.ft2font import FT2Font

    font = FT2Font(str(font_file("DejaVuSans-Bold")))
    font.set_size(_SIZE, 72)
    return font


def _label(kit: Kit, name: str, label: Label) -> PrintedLabel:
    height = label_height(label.distance.nominal, label.seen_through)
    on = f"on {kit.things[label.on].words}, " if label.on else ""
    return PrintedLabel(
        name,
        in_lines(label.text, height, WIDEST) or (label.text,),
        1000 * height,
        label.read_by == MIRROR,
        f"{on}{_height_words(label, height)}",
    )


def _tag(tag: Tag) -> PrintedTag:
    height = label_height(tag.distance.nominal, tag.seen_through)
    return PrintedTag(
        tag.letter,
        tag.shape,
        tag.rings,
        tag.connector,
        in_lines(tag.words, height, TAG_WORDS) or (tag.words,),
        tag.flow or "",
        tag.colour,
        PALETTE[tag.colour],
        1000 * height,
        _height_words(tag, height),
        tag.copies,
    )


def _height_words(read: Label | Tag, height: float) -> str:
    factor = FACTORS[read.seen_through]
    times = f", {factor:g} times as high for a {read.seen_through}" if factor != 1.0 else ""
    return f"letters {1000 * height:.1f} mm for {read.distance.text}{times}"
