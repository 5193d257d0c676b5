"""What every page of ours has: templates, one style sheet, and its hash for the page's policy."""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from functools import lru_cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from neckring.records import outlook_words, presentation, reading
from neckring.records.presentation import presentation_of


@dataclass(frozen=True)
class Style:
    """The style sheet of one page.

    Attributes:
        text: The sheet, to stand inside the page.
        digest: Its hash, by which the page's own policy knows it.
    """

    text: Markup
    digest: str


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Make the templates' environment: everything escaped, nothing undefined passed over."""
    made = Environment(
        loader=PackageLoader("neckring.records"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals |= {
        "reading": reading,
        "presentation": presentation,
        "words": outlook_words,
        "shown": presentation_of,
        "capital": lambda text: text[:1].upper() + text[1:],
    }
    return made


def style_named(name: str) -> Style:
    """Read the style sheet, with a name at the foot of each printed sheet.

    Args:
        name: What the page is about.

    Returns:
        Our own file with the name as escaped by `css_string`, and its hash.
    """
    source, _, _ = environment().loader.get_source(environment(), "plan.css")  # type: ignore[union-attr]
    text = source.replace('"RUN NAME"', css_string(name))
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return Style(Markup(text), digest)


def css_string(text: str) -> str:
    """Write a text as a CSS string in which nothing but letters and digits stands unescaped."""
    letters = (c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in text)
    return '"' + "".join(letters) + '"'
