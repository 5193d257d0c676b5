"""A warm day's outing in which most failures harm somebody in time, and its clocks."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from scenarios import DEMO, FloatArray, of_value, one_spell, outing_of, with_place

from neckring.outing.branches import Clocks, Pace
from neckring.outing.ensemble import TRUNK_STEP, map_of
from neckring.outing.scenario import Scenario
from neckring.outing.trunk import run_trunk
from neckring.station.variation import with_value

MINUTE = 60.0
RESERVES = np.array([15.0, 300.0])
# As drawn members are followed; every limit gets its clock, and more slack than this is endless.
WHOLE = Pace(to_the_end=True)
ENDLESS = RESERVES + WHOLE.beyond
# Minutes of the warm outing: fresh in the yard, later, and near the end of the work.
INSTANTS = (10.0 * MINUTE, 30.0 * MINUTE, 50.0 * MINUTE)


def warm(
    watts: float = 350.0, air: str = "30 degC", path: float = 40.0, lasting: str = "60 min"
) -> Scenario:
    """Work in a warm yard, cooled by the pack; the wearer is driven there and back."""
    station = with_place(DEMO.station, "yard", air_temperature=air, relative_humidity="50 % +/- 10")
    station = with_value(station, ("paths", "1", "length"), of_value(path, "length"))
    pack = {"cooling": "pack", "air": "pack", "valve": "100 %", "helmet": "on"}
    outing = (
        one_spell("dress", place="bay", **{"for": "5 min"}, **pack),
        one_spell(metabolic_rate=of_value(watts, "power"), **{"for": lasting}, **pack),
        one_spell("undress", place="bay", **{"for": "5 min"}, **pack),
    )
    return outing_of(*outing, code="yard-walk", station=station)


def clocks(
    scenario: Scenario, codes: Iterable[str], times: Iterable[float] = INSTANTS, pace: Pace = WHOLE
) -> dict[str, Clocks]:
    """Clocks of failures at some instants of a run."""
    marks = frozenset(times)
    trunk = run_trunk(scenario, DEMO.limits, marks, TRUNK_STEP)
    return map_of(trunk, dict.fromkeys(codes, marks), RESERVES, pace)


def slack_of(found: Clocks, relief: int) -> FloatArray:
    """Harm less help as far as it is computed [s], shape (instants, members)."""
    harm, help_ = found.harm[relief], found.help[relief]
    endless = np.isinf(harm)
    return np.minimum(
        np.where(endless, np.inf, harm) - np.where(endless, 0.0, help_), ENDLESS[relief]
    )
