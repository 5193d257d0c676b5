"""A fit as JSON, in SI."""

from __future__ import annotations

import json
import math
from typing import TypeAlias

from neckring import __version__
from neckring.fitting.clearance import Clearance
from neckring.fitting.findings import SuitFit, WearerFit
from neckring.outing.cautions import ALWAYS
from neckring.records.fit_words import CAUTIONS

Json: TypeAlias = "dict[str, Json] | list[Json] | str | float | int | bool | None"


def fit_as_json(found: WearerFit) -> dict[str, Json]:
    """A fit as plain data: lengths [m], masses [kg], shares [1], angles [rad], pressures [Pa]."""
    return {
        "neckring": __version__,
        "station": found.station,
        "invented": found.invented,
        "wearer": found.wearer,
        "cautions": [*CAUTIONS, *ALWAYS],
        "suits": [_suit(found, one) for one in found.suits],
        "undescribed": list(found.undescribed),
        "unlikely_measures": [
            {
                "field": ".".join(one.keys),
                "value": one.value,
                "likely": one.likely,
                "deviations": one.deviations,
                "meant": one.meant or None,
            }
            for one in found.unlikely
        ],
    }


def fit_as_json_text(found: WearerFit) -> str:
    """A fit as JSON text."""
    return json.dumps(fit_as_json(found), indent=2, ensure_ascii=False, allow_nan=False)


def _suit(found: WearerFit, one: SuitFit) -> dict[str, Json]:
    return {
        "suit": one.suit,
        "name": one.name,
        "torso": one.torso,
        "outcome": one.outcome,
        "because": one.because,
        "chance_not_barred": one.chance,
        "places": [_place(each) for each in one.clearances],
        "unmeasured": list(one.unmeasured),
        "settings": [
            {
                "adjuster": each.adjuster,
                "words": each.words,
                "kind": each.kind,
                "position": each.position,
                "last_position": each.last,
                "value": each.value,
                "kept": each.kept,
            }
            for each in one.settings
        ],
        "kept": _kept(one),
        "load": _load(one),
        "reach": list(one.reach),
        "accepted": [
            {
                "sex": each.sex,
                "no_bar": each.bars,
                "no_bar_nor_sore": each.whole,
                "no_bar_and_light": each.light,
                "no_bar_and_carries": each.carries,
                "no_bar_at_least": each.fewest,
                "no_bar_at_most": each.most,
                "places": dict(each.places),
            }
            for each in found.accepted[one.suit]
        ],
    }


def _place(found: Clearance) -> dict[str, Json]:
    return {
        "place": found.place,
        "measure": found.measure.name,
        "body": found.measure.value,
        "body_deviation": found.measure.deviation,
        "status": found.measure.status,
        "note": found.measure.note,
        "clearance": found.likely,
        "clearance_low": found.low,
        "clearance_high": found.high,
        "least": found.least,
        "most": found.most if math.isfinite(found.most) else None,
        "chance": found.chance,
        "barred": found.barred,
        "verdict": found.verdict,
        "side": found.side,
        "harm": found.harm,
        "consequence": found.consequence,
    }


def _kept(one: SuitFit) -> Json:
    if one.kept is None:
        return None
    return {
        "noted": one.kept.noted.isoformat(),
        "by": one.kept.by,
        "note": one.kept.note or None,
        "complete": one.kept.complete,
        "places": [_place(each) for each in one.kept.clearances],
    }


def _load(one: SuitFit) -> dict[str, Json]:
    load = one.burden
    return {
        "carried": load.carried,
        "share": load.share,
        "remark": load.remark.words,
        "source": load.remark.source,
        "rank": load.remark.rank,
        "centre_of_gravity_shift": load.shift,
        "forward_lean": load.lean,
        "strap_pressure_low": float(load.strap_pressure.low),
        "strap_pressure_high": float(load.strap_pressure.high),
        "signed_limits": [
            {"share": one.value, "action": one.action, "crossed": one.crossed, "source": one.source}
            for one in load.limits
        ],
        "wearer_and_suit": load.whole,
        "hands_to_lift_wearer": load.hands,
        "filled_pack": load.pack,
        "hands_to_lift_pack": load.pack_hands,
    }
