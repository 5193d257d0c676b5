"""Our own body map as a drawing: two outlines, regions with numbers, and the list beside them."""

from __future__ import annotations

from collections.abc import Mapping

from markupsafe import Markup

from neckring.crew.body_map import HEIGHT, REGIONS, WIDTH, Region, Side

GAP = 60
NUMBERS: Mapping[str, int] = {code: number for number, code in enumerate(REGIONS, 1)}
"""Code of a region to the number that stands in it."""
_HEADS: tuple[tuple[Side, str], ...] = (("front", "front"), ("back", "back"))


def body_map_svg(marked: Mapping[str, int] | None = None) -> Markup:
    """Both figures; nothing in them needs a colour to be understood.

    Args:
        marked: Code of a region to how much it troubled, 0 to 8; its figure stands in brackets.
    """
    parts = []
    for place, (side, head) in enumerate(_HEADS):
        shift = place * (WIDTH + GAP) + GAP / 2
        parts.append(f'<g transform="translate({shift:g} 24)">')
        parts.append(
            f'<text x="{WIDTH / 2:g}" y="-8" text-anchor="middle" font-size="13" '
            f'font-weight="bold">{head}</text>'
        )
        parts += [_drawn(one, marked or {}) for one in REGIONS.values() if one.side == side]
        parts.append(_hands(side))
        parts.append("</g>")
    width, height = 2 * (WIDTH + GAP), HEIGHT + 40
    head = (
        f'<svg class="picture" xmlns="http://www.w3.org/2000/svg" role="img" '
        f'viewBox="0 0 {width} {height}" aria-label="Body map, front and back">'
    )
    return Markup(head + "".join(parts) + "</svg>")


def _drawn(region: Region, marked: Mapping[str, int]) -> str:
    corners = " ".join(f"{x:g},{y:g}" for x, y in region.corners)
    x, y = region.middle
    trouble = marked.get(region.code, 0)
    fill = "#fff" if not trouble else "#ddd"
    said = f"{NUMBERS[region.code]}" + (f" ({trouble})" if trouble else "")
    return (
        f'<polygon points="{corners}" fill="{fill}" stroke="#1b1b1b" stroke-width="0.8"/>'
        f'<text x="{x:g}" y="{y + 3:g}" text-anchor="middle" font-size="8">{said}</text>'
    )


def _hands(side: Side) -> str:
    """Which side is the wearer's left: it differs from front to back."""
    left, right = (WIDTH - 8, 8) if side == "front" else (8, WIDTH - 8)
    return "".join(
        f'<text x="{x:g}" y="60" text-anchor="middle" font-size="10">{word}</text>'
        for x, word in ((left, "left"), (right, "right"))
    )
