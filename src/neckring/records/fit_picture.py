"""The picture of a fit: an outline from the front and the side, and one strip for each place.

Numbers on the outline lead to the strips. A strip shows on one scale of millimetres what must be
left (the open box) and what is left (the bar, with a dot where it most likely is). Verdicts differ
in shape and word before they differ in colour, so that the picture reads in grey.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from html import escape

from neckring.fitting.clearance import Clearance
from neckring.fitting.findings import SuitFit
from neckring.records import fit_words as words
from neckring.records.picture_svg import Drawing

WIDTH, ROW, TOP = 940, 30, 44
OUTLINE_WIDTH = 330
STRIP_LEFT, STRIP_RIGHT = 612, 832
LOWEST, HIGHEST = -60.0, 140.0
"""Ends of the scale [mm]."""

INK, PALE, SHELL = "#1b1b1b", "#6b7078", "#c9ccd1"
COLOURS = {"fits": "#0072b2", "in doubt": "#e69f00", "does not fit": "#d55e00"}

# Where each place is on the outline, in the outline's own coordinates: view and point.
SPOTS: dict[str, tuple[float, float]] = {
    "helmet_top": (105, 42),
    "helmet": (82, 62),
    "neck_ring": (105, 96),
    "arm_openings": (72, 118),
    "shoulders": (142, 118),
    "chest_girth": (105, 150),
    "trunk": (105, 185),
    "hatch": (132, 222),
    "sleeves": (44, 190),
    "gloves": (38, 250),
    "glove_breadth": (172, 250),
    "legs": (90, 290),
    "boots": (84, 408),
    "chest": (262, 140),
}

# Front: head, trunk, arms, legs. Side: head, trunk, arm, leg. Our own outline of nobody.
BODY = (
    "M105 44 c14 0 20 10 20 24 c0 12 -7 22 -20 22 c-13 0 -20 -10 -20 -22 c0 -14 6 -24 20 -24 Z",
    "M95 90 v9 l-25 8 c-10 3 -14 10 -15 22 l-9 70 l-7 46 c-1 7 7 10 11 4 l12 -48 l12 -54 v60 "
    "l-6 40 l-2 70 l-2 84 c0 5 16 5 18 0 l10 -86 l13 -62 l13 62 l10 86 c2 5 18 5 18 0 l-2 -84 "
    "l-2 -70 l-6 -40 v-60 l12 54 l12 48 c4 6 12 3 11 -4 l-7 -46 l-9 -70 c-1 -12 -5 -19 -15 -22 "
    "l-25 -8 v-9 Z",
    "M262 44 c15 0 21 10 21 22 l4 8 l-5 2 c0 10 -6 14 -20 14 c-14 0 -21 -10 -21 -22 c0 -14 6 -24 "
    "21 -24 Z",
    "M253 90 v8 c-12 6 -17 20 -16 40 l4 44 c-6 12 -6 26 -2 40 l2 74 l-2 96 l-2 9 h32 c4 -3 0 -7 "
    "-6 -8 l-7 -5 l4 -92 l8 -70 c4 -16 2 -34 -1 -46 l6 -34 c4 -20 2 -36 -8 -46 v-10 Z",
)
SUIT = (
    "M105 32 c24 0 32 16 32 36 c0 18 -10 30 -32 30 c-22 0 -32 -12 -32 -30 c0 -20 8 -36 32 -36 Z",
    "M74 98 h62 l22 10 v30 l-10 8 v76 h-86 v-76 l-10 -8 v-30 Z",
    "M262 32 c24 0 34 16 34 36 c0 18 -12 30 -34 30 c-22 0 -32 -12 -32 -30 c0 -20 8 -36 32 -36 Z",
    "M234 98 h52 l10 24 v78 l-8 22 h-56 l-4 -22 v-78 Z",
)


def draw_fit(found: SuitFit) -> Drawing:
    """Draw one suit's fit.

    Args:
        found: The fit; its clearances in the order of the strips.

    Returns:
        The picture with its words.
    """
    key = f"fit-{found.suit}"
    title = f"What is left between body and suit, {found.suit}"
    told = describe(found)
    rows = len(found.clearances)
    height = max(448, TOP + ROW * rows + 50)
    parts = [
        *_outline(found.torso),
        *_spots(found.clearances),
        *_scale(rows),
        *(part for i, one in enumerate(found.clearances) for part in _strip(i, one)),
    ]
    head = (
        f'<svg class="picture" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'aria-labelledby="{key}-title {key}-words">'
        f'<title id="{key}-title">{escape(title)}</title>'
        f'<desc id="{key}-words">{escape(told)}</desc>'
    )
    return Drawing(key, title, told, head + "".join(parts) + "</svg>")


def describe(found: SuitFit) -> str:
    """The picture in words."""
    return " ".join(
        f"{number}. {words.place_words(one)}: {words.clearance_words(one)} left, "
        f"{words.wanted_words(one)} wanted, {one.verdict}."
        for number, one in enumerate(found.clearances, 1)
    )


def _outline(torso: str) -> Iterator[str]:
    for path in SUIT:
        dash = "" if torso == "rigid" else ' stroke-dasharray="6 4"'
        yield f'<path d="{path}" fill="#f0f1f3" stroke="{PALE}" stroke-width="2.5"{dash}/>'
    for path in BODY:
        yield f'<path d="{path}" fill="#dfe2e6" stroke="{INK}" stroke-width="1.2"/>'
    yield _text(105, 432, "front", size=12, anchor="middle", colour=PALE)
    yield _text(262, 432, "side", size=12, anchor="middle", colour=PALE)


def _spots(found: Sequence[Clearance]) -> Iterator[str]:
    for number, one in enumerate(found, 1):
        x, y = SPOTS[one.place]
        yield _badge(x, y, number, one.verdict)


def _badge(x: float, y: float, number: int, verdict: str) -> str:
    """A number in a circle when it fits, in a diamond when in doubt, in a square when not."""
    colour, r = COLOURS[verdict], 10
    if verdict == "fits":
        shape = f'<circle cx="{x}" cy="{y}" r="{r}" fill="#ffffff" stroke="{colour}"'
    elif verdict == "in doubt":
        points = f"{x},{y - r - 4} {x + r + 4},{y} {x},{y + r + 4} {x - r - 4},{y}"
        shape = f'<polygon points="{points}" fill="#ffffff" stroke="{colour}"'
    else:
        corner = f'x="{x - r}" y="{y - r}" width="{2 * r}" height="{2 * r}"'
        shape = f'<rect {corner} fill="#ffffff" stroke="{colour}"'
    width = {"fits": 2, "in doubt": 3, "does not fit": 5}[verdict]
    figure = _text(x, y + 4, str(number), size=12, anchor="middle", weight=700)
    return f'{shape} stroke-width="{width}"/>{figure}'


def _at(millimetres: float) -> float:
    """Across the scale, held at its ends."""
    held = min(max(millimetres, LOWEST), HIGHEST)
    return STRIP_LEFT + (held - LOWEST) / (HIGHEST - LOWEST) * (STRIP_RIGHT - STRIP_LEFT)


def _scale(rows: int) -> Iterator[str]:
    bottom = TOP + ROW * rows
    for mark in range(int(LOWEST), int(HIGHEST) + 1, 20):
        x = _at(mark)
        wide = 1.6 if mark == 0 else 0.6
        yield (
            f'<line x1="{x:.1f}" y1="{TOP - 6}" x2="{x:.1f}" y2="{bottom}" '
            f'stroke="{INK if mark == 0 else SHELL}" stroke-width="{wide}"/>'
        )
        if mark % 40 == 0:
            yield _text(x, TOP - 12, f"{mark:+d}" if mark else "0", size=11, anchor="middle")
    middle = 0.5 * (STRIP_LEFT + STRIP_RIGHT)
    yield _text(middle, 16, "left over [mm]", size=12, anchor="middle", weight=700)
    yield _text(middle, bottom + 22, "open box: what must be left", size=11, anchor="middle")
    yield _text(
        middle, bottom + 38, "bar: what is left, 5 % to 95 %; dot: likely", size=11, anchor="middle"
    )


def _strip(index: int, one: Clearance) -> Iterator[str]:
    middle = TOP + ROW * (index + 0.5)
    yield _badge(OUTLINE_WIDTH + 24, middle, index + 1, one.verdict)
    star = "" if one.measure.status == "measured" else " *"
    weight = 400 if one.verdict == "fits" else 700
    name = words.place_words(one) + star
    yield _text(OUTLINE_WIDTH + 44, middle + 4, name, size=13, weight=weight)
    least = _at(1e3 * one.least)
    most = _at(1e3 * one.most) if math.isfinite(one.most) else float(STRIP_RIGHT)
    yield (
        f'<rect x="{least:.1f}" y="{middle - 9}" width="{most - least:.1f}" height="18" '
        f'fill="#ffffff" stroke="{INK}" stroke-width="1.2"/>'
    )
    low, likely, high = (_at(1e3 * value) for value in (one.low, one.likely, one.high))
    yield (
        f'<rect x="{low:.1f}" y="{middle - 4}" width="{max(high - low, 2.0):.1f}" height="8" '
        f'fill="{COLOURS[one.verdict]}" stroke="{INK}" stroke-width="0.8"/>'
    )
    yield from _beyond(one, middle)
    if LOWEST <= 1e3 * one.likely <= HIGHEST:
        yield (
            f'<circle cx="{likely:.1f}" cy="{middle}" r="4" fill="#ffffff" stroke="{INK}" '
            'stroke-width="1.8"/>'
        )
    yield _text(STRIP_RIGHT + 14, middle + 4, one.verdict, size=13, weight=weight)


def _beyond(one: Clearance, middle: float) -> Iterator[str]:
    """Arrows where the bar leaves the scale."""
    if 1e3 * one.low < LOWEST:
        x = STRIP_LEFT
        yield f'<polygon points="{x - 9},{middle} {x},{middle - 6} {x},{middle + 6}" fill="{INK}"/>'
    if 1e3 * one.high > HIGHEST:
        x = STRIP_RIGHT
        yield f'<polygon points="{x + 9},{middle} {x},{middle - 6} {x},{middle + 6}" fill="{INK}"/>'


def _text(
    x: float,
    y: float,
    text: str,
    size: int,
    anchor: str = "start",
    weight: int = 400,
    colour: str = INK,
) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" font-weight="{weight}" '
        f'text-anchor="{anchor}" fill="{colour}">{escape(text)}</text>'
    )
