"""The plan as one self-contained page: for a screen, for paper, without network or script."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from neckring import __version__
from neckring.outing.findings import Assumption, LimitFinding, Plan, SpellFinding
from neckring.records import reading
from neckring.records.outlook_words import name_words, slack_words
from neckring.records.page_frame import environment, style_named
from neckring.records.picture_svg import Drawing
from neckring.records.pictures import GROUPS, Picture
from neckring.records.plan_plots import draw_pictures, limits_in, pictures_without_values
from neckring.records.presentation import presentation_of
from neckring.records.slack_bands import bands, folded
from neckring.records.slack_picture import draw_slack, left_out

KEY_QUANTITIES = (
    ("core_temperature", "highest"),
    ("heart_rate", "highest"),
    ("inspired_co2", "highest"),
    ("inspired_o2", "lowest"),
    ("fog_margin", "lowest"),
    ("body_water_loss", "highest"),
)
STATE_QUANTITIES = (
    "core_temperature",
    "lowest_skin_temperature",
    "heart_rate",
    "inspired_co2",
    "fog_margin",
    "water_inlet_temperature",
    "ice_mass",
    "battery_charge",
)


@dataclass(frozen=True)
class KeyNumber:
    """One of the numbers at the head of the page: what, how much, and against which limit."""

    label: str
    value: str
    note: str
    crossed: bool = False


def render_page(plan: Plan) -> str:
    """Write a plan as one HTML page that needs nothing beside itself.

    The same plan always gives the same text.

    Args:
        plan: The computed run.

    Returns:
        The whole HTML document.
    """
    drawings = {drawing.key: drawing for drawing in draw_pictures(plan)}
    style = style_named(f"{plan.station}, run {plan.run}, wearer {plan.wearer}")
    return (
        environment()
        .get_template("plan.html.j2")
        .render(
            plan=plan,
            version=__version__,
            style=style,
            timeline=drawings["timeline"],
            groups=_groups(drawings),
            missing=pictures_without_values(plan),
            key_numbers=_key_numbers(plan),
            limits=reading.limits_nearest_first(plan),
            limits_in=limits_in,
            way_words=way_words,
            states=_states(plan),
            state_quantities=STATE_QUANTITIES,
            assumptions=_by_topic(plan.assumptions),
            unverified=[limit for limit in plan.limits if not limit.verified],
            **_look_ahead(plan),
        )
    )


def _look_ahead(plan: Plan) -> dict[str, Any]:
    """Draw harm against help, when it was computed."""
    if plan.outlook is None:
        return {}
    outlook, aside = plan.outlook, folded(plan.outlook)
    beyond: dict[str, list[str]] = {}
    for one in aside.beyond:
        slack = slack_words(one.worst.slack, one.reserve, outlook.computed)
        beyond.setdefault(slack, []).append(name_words(one, outlook))
    near = {id(one) for group in bands(outlook) for one in group}
    return {
        "slack": draw_slack(plan, outlook),
        "near": [one for one in outlook.failures if id(one) in near],
        "beyond": beyond,
        "impossible": [name_words(one, outlook) for one in aside.impossible],
        "left_out": left_out(outlook),
    }


def _groups(
    drawings: dict[str, Drawing],
) -> list[tuple[str, str, list[tuple[Picture, Drawing]]]]:
    """Sort the drawings into the page's sections; a section without drawings is left out."""
    sections = []
    for key, title, pictures in GROUPS:
        drawn = [(one, drawings[one.key]) for one in pictures if one.key in drawings]
        if drawn:
            sections.append((key, title, drawn))
    return sections


def way_words(plan: Plan, limit: LimitFinding) -> str:
    """Write which share of the way from the first value to the limit is used, or a dash."""
    used = reading.way_used(plan, limit)
    return "–" if used is None else f"{min(999, int(100 * used))}\u00a0%"


def _key_numbers(plan: Plan) -> list[KeyNumber]:
    length = KeyNumber(
        "limits hold up to",
        f"{reading.whole_minutes(plan.longest)}\u00a0min",
        f"of a run of {reading.whole_minutes(plan.duration)}\u00a0min",
        crossed=plan.longest < plan.duration,
    )
    numbers = [_extreme(plan, quantity, side) for quantity, side in KEY_QUANTITIES]
    stores = [
        KeyNumber(f"{name} at the end", *_split(words))
        for name, words in reading.remaining_lines(plan)
    ]
    return [length, *(number for number in numbers if number), *stores]


def _split(words: str) -> tuple[str, str]:
    """Part the words of a store into the large figure and what stands under it."""
    head, _, rest = words.partition(", ")
    return head, rest


def _extreme(plan: Plan, quantity: str, side: str) -> KeyNumber | None:
    values = plan.trace.get(quantity)
    if values is None or not np.isfinite(values).any():
        return None
    value = float(np.nanmax(values) if side == "highest" else np.nanmin(values))
    limits = [limit for limit in reading.limits_nearest_first(plan) if limit.quantity == quantity]
    shown = presentation_of(quantity)
    return KeyNumber(f"{side} {shown.label}", shown.text(value), *_against(limits[:1]))


def _against(nearest: list[LimitFinding]) -> tuple[str, bool]:
    """Say how a quantity fares against its nearest limit, and whether that is crossed."""
    if not nearest:
        return "no limit is set on it", False
    limit = nearest[0]
    name = f"{limit.action} {limit.direction} {presentation_of(limit.quantity).text(limit.value)}"
    if limit.reached is None:
        return f"{name}: {'touched briefly' if reading.is_beyond(limit) else 'kept'}", False
    return f"{name}: crossed at {reading.whole_minutes(limit.reached)}\u00a0min", True


def _states(plan: Plan) -> list[tuple[SpellFinding, list[str]]]:
    """Read the main quantities at the end of each spell."""
    time = plan.trace["time"]
    states = []
    for spell in plan.spells:
        index = max(0, int(np.searchsorted(time, spell.ends, side="right")) - 1)
        row = [_state(plan, quantity, index) for quantity in STATE_QUANTITIES]
        states.append((spell, row))
    return states


def _state(plan: Plan, quantity: str, index: int) -> str:
    values: Any = plan.trace.get(quantity)
    return "–" if values is None else presentation_of(quantity).figure(float(values[index]))


def _by_topic(assumptions: tuple[Assumption, ...]) -> list[tuple[str, list[Assumption]]]:
    """Gather assumptions under their topics, in the order in which the topics first come."""
    topics: dict[str, list[Assumption]] = {}
    for assumption in assumptions:
        topics.setdefault(assumption.topic, []).append(assumption)
    return list(topics.items())
