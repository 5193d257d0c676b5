"""A matplotlib figure as a small inline SVG: no outside names, no inline style, own words in it.

matplotlib writes a stand-alone file. Inside a page the XML head, the namespaces, the metadata and
the clipping are dead weight, its style attributes would need a loose content security policy, and
its ids would clash between pictures. All of that is taken out here.
"""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from html import escape

from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

_NO_METADATA = {"Date": None, "Creator": None, "Format": None, "Type": None}
_XLINK = "{http://www.w3.org/1999/xlink}"
_FONT = re.compile(r"^(?:(?P<weight>bold|\d{3}) )?(?P<size>[\d.]+)px ")
_NUMBER = re.compile(r"-?\d+\.\d+(?:e-?\d+)?")
_NEEDLESS = {"font-family", "stroke-linejoin", "stroke-linecap", "stroke-dashoffset"}


@dataclass(frozen=True)
class Drawing:
    """A finished picture.

    Attributes:
        key: Short name, unique in the page.
        title: What it shows, in a few words.
        words: What it shows, told in full.
        svg: The inline SVG element.
    """

    key: str
    title: str
    words: str
    svg: str


def drawing_of(figure: Figure, key: str, title: str, words: str) -> Drawing:
    """Write a figure as an inline SVG element.

    Args:
        figure: The drawn figure.
        key: Short name, unique in the page; it starts every id.
        title: Its title, as the SVG says it.
        words: Its description, as the SVG says it.

    Returns:
        The picture with its words.
    """
    file = io.StringIO()
    FigureCanvasSVG(figure).print_svg(file, metadata=_NO_METADATA)  # type: ignore[no-untyped-call]
    source = ET.fromstring(file.getvalue())
    size = _shortened(source.attrib["viewBox"])
    inside = "".join(_element(child, key) for child in source)
    head = (
        f'<svg class="picture" viewBox="{size}" role="img" '
        f'aria-labelledby="{key}-title {key}-words">'
        f'<title id="{key}-title">{escape(title)}</title>'
        f'<desc id="{key}-words">{escape(words)}</desc>'
    )
    return Drawing(key, title, words, f"{head}{inside}</svg>")


def _element(element: ET.Element, key: str) -> str:
    """Write one element and all in it, without what a page does not need."""
    tag = element.tag.rpartition("}")[2]
    if tag in {"metadata", "style"}:
        return ""
    attributes = _attributes(element, key)
    inside = escape(element.text or "", quote=False) if tag == "text" else ""
    inside += "".join(_element(child, key) for child in element)
    if tag in {"g", "defs"} and not inside:
        return ""
    if tag == "g" and not attributes:
        return inside
    written = "".join(f' {name}="{escape(value)}"' for name, value in attributes.items())
    return f"<{tag}{written}>{inside}</{tag}>" if inside else f"<{tag}{written}/>"


def _attributes(element: ET.Element, key: str) -> dict[str, str]:
    """Rewrite attributes: style as single attributes, ids with the key, numbers shortened."""
    found: dict[str, str] = {}
    tag = element.tag.rpartition("}")[2]
    for name, value in element.attrib.items():
        if name == "style":
            found |= _presentation_attributes(value)
        elif name == f"{_XLINK}href":
            found["href"] = f"#{key}-{value.removeprefix('#')}"
        elif name == "id":
            found |= {} if tag == "g" else {"id": f"{key}-{value}"}
        elif name in {"d", "x", "y", "transform"} and not value.startswith("rotate(-0 "):
            found[name] = _shortened(value)
    return found


def _presentation_attributes(style: str) -> dict[str, str]:
    """Split a style attribute into the attributes SVG has for the same properties."""
    found: dict[str, str] = {}
    for declaration in style.split(";"):
        name, _, value = (part.strip() for part in declaration.partition(":"))
        if name == "font":
            font = _FONT.match(value)
            if font is None:
                raise ValueError(f"matplotlib wrote a font this module cannot read: {value!r}")
            found["font-size"] = font["size"]
            if font["weight"]:
                found["font-weight"] = font["weight"]
        elif name and name not in _NEEDLESS:
            found[name] = value
    return found


def _shortened(text: str) -> str:
    """Write every number with two decimals at most: a hundredth of a point cannot be seen."""
    joined = " ".join(text.split())
    return _NUMBER.sub(
        lambda number: f"{float(number.group()):.2f}".rstrip("0").rstrip("."), joined
    )
