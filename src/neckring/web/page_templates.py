"""The pages' templates: everything escaped, nothing undefined passed over."""

from __future__ import annotations

import secrets
from collections.abc import Iterator, Mapping
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable

from jinja2 import DictLoader, Environment, StrictUndefined

from neckring.live.alarm import Rank
from neckring.live.alarm_list import LISTED
from neckring.live.entries import Entry, Kind
from neckring.web import page_views

GUARD_MARK = f"guard-{secrets.token_hex(16)}"
AT_MARK = f"at-{secrets.token_hex(16)}"
"""Stand in rendered parts, so that one rendering serves every device. Drawn at each start: nobody
can write one into a text."""


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Make the templates' environment: of the files as they are now, whatever becomes of them.

    A console that runs must not show half of a newer one when files are put in place under it.
    """
    made = Environment(
        loader=DictLoader(dict(_templates(files("neckring.web") / "templates"))),
        autoescape=True,
        auto_reload=False,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals |= {
        "words": page_views,
        "GUARD_MARK": GUARD_MARK,
        "AT_MARK": AT_MARK,
        "lane_names": page_views.LANE_NAMES,
        "rank_words": lambda rank: Rank(rank).words,
        "first_action_of": lambda cause: LISTED[cause].first_action if cause in LISTED else "",
        "entry_words": entry_words,
    }
    return made


def _templates(folder: Traversable, within: str = "") -> Iterator[tuple[str, str]]:
    """Every template below a folder: its name and its text."""
    for each in folder.iterdir():
        if each.is_dir():
            yield from _templates(each, f"{within}{each.name}/")
        elif each.name.endswith(".j2"):
            yield f"{within}{each.name}", each.read_text(encoding="utf-8")


def render(name: str, context: Mapping[str, object]) -> str:
    """Render a template; the marks stay in it."""
    return environment().get_template(name).render(context)


def marked(text: str, guard: str, at: int) -> str:
    """A rendered text made out for one device, as it stood at an entry."""
    return text.replace(GUARD_MARK, guard).replace(AT_MARK, str(at))


def entry_words(entry: Entry) -> str:
    """An entry in one line."""
    deed, body = entry.deed, entry.deed.body
    if deed.kind is Kind.REFUSED:
        return f"REFUSED {body.get('kind', '')}: {body.get('why', '')}"
    if deed.kind is Kind.ESTIMATE:
        return f"estimate of {body.get('wearer', '')}"
    if deed.kind in (Kind.RUN_OPENED, Kind.RESTARTED):
        return deed.kind.value
    told = "; ".join(
        _brief(name, value)
        for name, value in body.items()
        if name not in UNSAID and not (name == "alarm" and "words" in body)
    )
    return f"{deed.kind.value}: {told}" if told else deed.kind.value


UNSAID = frozenset({"rank", "cause", "shown", "also", "first_action"})
NUMBERED = frozenset({"step", "before", "spell", "call", "share", "accepts"})


def _brief(name: str, value: object) -> str:
    if isinstance(value, Mapping):
        if {"value", "unit"} == set(value):
            return f"{value['value']} {value['unit']}"
        return "; ".join(f"{each} {part}" for each, part in value.items())
    text = f"{name} {value}" if name in NUMBERED else str(value)
    return text if len(text) <= 160 else f"{text[:159]}\N{HORIZONTAL ELLIPSIS}"
