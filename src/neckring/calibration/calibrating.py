"""All of a calibration: runs heard one after the other, step times, drills, and what follows."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from neckring.calibration.corrected import corrections, day_work
from neckring.calibration.findings import Calibration, DrillTime, Place, RunHeard
from neckring.calibration.knowledge import Knowledge
from neckring.calibration.logged import Logged
from neckring.calibration.posterior import Told, hear, known_after
from neckring.calibration.replay import Course
from neckring.calibration.step_times import Timed, step_times
from neckring.live.drill_times import Offered, offered
from neckring.outing.scenario import Scenario
from neckring.station.drills import Drill
from neckring.station.loading import LoadedStation

UNDER_THE_MODEL = (
    "Bands hold if suit and wearer are as the model has them; what the model does not know is not "
    "in them. Nothing is proposed more exactly than to 3 %."
)
WANDERS = (
    "What is written for the fans and the battery still gets the usual doubt of one fan and one "
    "battery on top in a live run: it errs to the wide side."
)


@dataclass(frozen=True, eq=False)
class Material:
    """What a calibration stands on.

    Attributes:
        logged: Every wearer's part of every run, the oldest first.
        timed: Steps of all runs.
        drills: Of the station.
        cautions: What was noticed while reading.
    """

    logged: Sequence[Logged]
    timed: Sequence[Timed]
    drills: Sequence[Drill]
    cautions: tuple[str, ...] = ()


def calibrate(
    loaded: LoadedStation,
    material: Material,
    workers: int = 1,
    tell: Callable[[str], None] = lambda _: None,
) -> Calibration:
    """Re-estimate what the runs tell of.

    What one run told is what is known before the next: of the suit, and of the wearer.

    Args:
        loaded: The station; every run, suit and wearer of the material is in it.
        material: What was logged.
        workers: Threads; the answer does not depend on them.
        tell: Told what is being done.
    """
    known, told, heard = Knowledge(), [], []
    for logged in material.logged:
        tell(f"{logged.name}: wearer {logged.wearer} in suit {logged.suit}")
        course = Course(scenario_of(loaded, logged), logged)
        if not logged.series or not len(course.rounds):
            heard.append(_not_heard(logged))
            continue
        one = hear(course, known, workers)
        known = known_after(known, one)
        told.append(one)
        heard.append(_heard(one))
    suits = dict.fromkeys(logged.suit for logged in material.logged)
    own = (UNDER_THE_MODEL, WANDERS) if told else ()
    return Calibration(
        loaded.station.name,
        loaded.station.invented,
        tuple(heard),
        corrections(told, Knowledge(), known),
        step_times(material.timed, loaded.kits),
        tuple(_drills(loaded, suits, material.drills)),
        (*material.cautions, *own),
    )


def scenario_of(loaded: LoadedStation, logged: Logged) -> Scenario:
    """The run as written, one member."""
    return Scenario(
        loaded.station,
        loaded.suits[logged.suit],
        loaded.wearers[logged.wearer],
        loaded.runs[logged.run],
    )


def _minutes(logged: Logged) -> float:
    return max(0.0, logged.until - logged.doings[0].begun) / 60.0 if logged.doings else 0.0


def _why(logged: Logged) -> dict[str, str]:
    return {"run": logged.why_until} if logged.why_until else {}


def _not_heard(logged: Logged) -> RunHeard:
    left_out = {"run": "no good reading to learn from", **_why(logged), **logged.left_out}
    return RunHeard(
        logged.name, logged.run, logged.wearer, logged.suit, 0.0, 0, None, left_out, True
    )


def _heard(one: Told) -> RunHeard:
    logged = one.course.logged
    used = [each for each in logged.series if each.channel not in one.left_out]
    return RunHeard(
        logged.name,
        logged.run,
        logged.wearer,
        logged.suit,
        _minutes(logged),
        sum(each.readings for each in used),
        day_work(one),
        {**_why(logged), **one.left_out},
        one.settled,
    )


def _drills(
    loaded: LoadedStation, suits: Iterable[str], drills: Sequence[Drill]
) -> Iterable[DrillTime]:
    for code in suits:
        for offer in offered(drills, code, loaded.suits[code].help_times):
            yield _drill(code, offer)


def _drill(suit: str, offer: Offered) -> DrillTime:
    now = offer.now.text if offer.now is not None and not offer.assumed else ""
    is_new = bool(offer.proposed) and offer.proposed != now
    note = offer.words if is_new or not offer.proposed else f"{offer.words}; as written"
    return DrillTime(
        suit,
        offer.key,
        now,
        offer.number,
        offer.p50.value if offer.p50 else None,
        offer.p90.value if offer.p90 else None,
        (offer.p90.low, offer.p90.high) if offer.p90 else (None, None),
        Place("suit", suit, ("help", offer.key)),
        offer.proposed if is_new else "",
        note,
    )


def counted(findings: Calibration) -> Mapping[str, int]:
    """How many proposals there are, by what they are of."""
    return {
        "numbers": sum(1 for one in findings.corrections if one.proposed),
        "step times": sum(1 for one in findings.steps if one.proposed),
        "drill times": sum(1 for one in findings.drills if one.proposed),
    }
