"""Small suits and wearers for the tests of fitting, made of the demo's by replacing parts."""

from __future__ import annotations

from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import strategies as st

import neckring.station
from neckring.fitting.clearance import bounds_of, doubt_of, left_over
from neckring.fitting.measures import Measure
from neckring.fitting.places import RULES
from neckring.fitting.settings import SMALLEST_DOUBT, room_at
from neckring.station.body_measures import Measures
from neckring.station.fit import Fit
from neckring.station.loading import load_station
from neckring.station.wearer import Wearer

DEMO = load_station(Path(neckring.station.__file__).parent / "demo")
LIFT = DEMO.station.policy.lift_limit.nominal


def fit_of(written: dict[str, Any]) -> Fit:
    """A fit from its keys as written."""
    return Fit.model_validate({"torso": "rigid", "layers": "6 mm", **written})


def wearer_with(code: str = "W4", **changes: Any) -> Wearer:
    """A wearer of the demo with keys replaced; `measures` as written."""
    wearer = DEMO.wearers[code]
    if isinstance(changes.get("measures"), dict):
        changes["measures"] = Measures.model_validate(changes["measures"])
    return wearer.model_copy(update=changes)


def measured(place: str, millimetres: float, deviation: float = 4.0) -> Measure:
    """A measure that meets a place; both in millimetres."""
    return Measure(
        RULES[place].measure, millimetres / 1e3, deviation / 1e3, "measured", "of a test"
    )


def margins(fit: Fit, measures: dict[str, Measure], positions: dict[str, int]) -> dict[str, list]:
    """Deviations inside its bounds of each place, apart for what bars and what hurts."""
    found: dict[str, list] = {"bars": [], "hurts": []}
    for name, place in fit.places.items():
        room = room_at(fit, name, positions)
        left = left_over(name, room, fit.layers.nominal, measures[name].value)
        scale = max(doubt_of(name, measures[name]), SMALLEST_DOUBT)
        least, most = bounds_of(place)
        found[RULES[name].tight_harm].append((left - least) / scale)
        if np.isfinite(most):
            found[RULES[name].loose_harm].append((most - left) / scale)
    return found


def every_setting(fit: Fit) -> list[dict[str, int]]:
    """All positions of all adjusters."""
    ranges = [range(one.last + 1) for one in fit.adjusters.values()]
    return [dict(zip(fit.adjusters, at, strict=True)) for at in product(*ranges)]


_PLACES = ("trunk", "chest", "boots")


@st.composite
def problems(draw: st.DrawFn) -> tuple[Fit, dict[str, Measure]]:
    """A fit of up to three places and three adjusters with few positions, and a body."""
    places = draw(st.lists(st.sampled_from(_PLACES), min_size=1, max_size=3, unique=True))
    rooms = {"trunk": (1500, 1700), "chest": (270, 360), "boots": (230, 300)}
    bodies = {"trunk": (1450, 1750), "chest": (220, 320), "boots": (220, 300)}
    written: dict[str, Any] = {"places": {}, "adjusters": {}}
    for name in places:
        least = draw(st.integers(-10, 10))
        most = draw(st.none() | st.integers(least + 5, least + 60))
        written["places"][name] = {
            "room": f"{draw(st.integers(*rooms[name]))} mm",
            "least": f"{least} mm",
            **({"most": f"{most} mm"} if most is not None else {}),
        }
    for number in range(draw(st.integers(1, 3))):
        step = draw(st.sampled_from([5, 10, 20]))
        acts_on = draw(st.lists(st.sampled_from(places), min_size=1, unique=True))
        written["adjusters"][f"a{number}"] = {
            "words": f"adjuster {number}",
            "kind": draw(st.sampled_from(["pad", "strap", "size"])),
            "from": "0 mm",
            "to": f"{step * draw(st.integers(1, 5))} mm",
            "step": f"{step} mm",
            "acts_on": {place: draw(st.sampled_from(["-2", "-1", "1", "2"])) for place in acts_on},
        }
    body = {name: measured(name, draw(st.integers(*bodies[name]))) for name in places}
    return fit_of(written), body
