"""What may be asked for: each inverse question as a row of values and what a value changes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from neckring.outing.cut_run import exactly
from neckring.outing.ensemble import Question
from neckring.outing.loop_flow import flow_rows
from neckring.outing.scenario import nominal
from neckring.outing.way_home import home_of, path_length, paths_between
from neckring.station.help import ALONG
from neckring.station.run import Run, Spell
from neckring.station.variation import with_value
from neckring.units import Quantity, format_quantity

# Water temperature at which a flow is told [degC].
FLOW_TEMPERATURE = 10.0
MINUTE = 60.0
# How much more than planned is looked at.
LONGER_STAY = 120
HEAVIER_PACK = 10.0


@dataclass(frozen=True)
class Inverse:
    """One inverse question.

    Attributes:
        question: In words: "the least ice".
        values: All values looked at, from careful to bold; none when it cannot be asked.
        planned: The value as planned.
        changed: The run with another value.
        words: A value, told.
        nothing: What is said when it cannot be asked.
    """

    question: str
    values: Callable[[Question], Sequence[float]]
    planned: Callable[[Question], float]
    changed: Callable[[Question, float], Question]
    words: Callable[[Question, float], str]
    nothing: str = "this run has nothing of the kind"

    def present(self, question: Question) -> str:
        """The value as planned, told."""
        return self.words(question, self.planned(question))

    def planned_place(self, question: Question, values: Sequence[float]) -> int:
        """Number of the value nearest to what is planned."""
        return int(np.argmin(np.abs(np.array(values) - self.planned(question))))


def _suit_value(*path: str, kind: str) -> Callable[[Question, float], Question]:
    def change(question: Question, value: float) -> Question:
        suit = with_value(question.scenario.suit, path, exactly(value, kind))
        return replace(question, scenario=replace(question.scenario, suit=suit))

    return change


def _told(kind: str) -> Callable[[Question, float], str]:
    return lambda _question, value: format_quantity(value, kind)


def _row(*numbers: float) -> Sequence[float]:
    return [float(number) for number in np.round(np.arange(*numbers), 6)]


def _with_planned(values: Sequence[float], planned: float, bold_is_less: bool) -> Sequence[float]:
    """The row with the planned value in it, careful first."""
    return sorted({*values, planned}, reverse=bold_is_less)


def _ice(question: Question) -> float:
    return question.scenario.suit.reservoir.ice.nominal


def _ices(question: Question) -> Sequence[float]:
    most = max(4.0, 2.0 * _ice(question))
    return _with_planned(_row(0.0, most + 0.05, 0.1), _ice(question), bold_is_less=True)


def _start(question: Question) -> float:
    return question.scenario.suit.reservoir.start_temperature.nominal


def _starts(question: Question) -> Sequence[float]:
    return _with_planned(_row(0.5, 35.1, 0.5), _start(question), bold_is_less=False)


def _pack(question: Question) -> float:
    return question.scenario.suit.pack_mass.nominal


def _packs(question: Question) -> Sequence[float]:
    most = _pack(question) + HEAVIER_PACK
    return _with_planned(_row(0.5, most + 0.1, 0.5), _pack(question), bold_is_less=False)


def _on_pack(question: Question) -> list[int]:
    spells = question.scenario.run.outing
    return [number for number, spell in enumerate(spells) if spell.cooling == "pack"]


def _valve(question: Question) -> float:
    spells = question.scenario.run.outing
    opened = [spells[n].valve for n in _on_pack(question)]
    return min((valve.nominal if valve else 1.0 for valve in opened), default=1.0)


def _valves(question: Question) -> Sequence[float]:
    if not _on_pack(question):
        return []
    return _with_planned(_row(0.05, 1.01, 0.05), _valve(question), bold_is_less=True)


def _valve_changed(question: Question, value: float) -> Question:
    opening = exactly(value, "fraction")
    return _respelled(
        question, lambda s: s.model_copy(update={"valve": opening}) if s.cooling == "pack" else s
    )


def _flow_words(question: Question, value: float) -> str:
    scenario = replace(question.scenario, members=1, draw=nominal)
    rows = flow_rows(scenario, exactly(value, "fraction"))
    powers = [float(rows[f"FLOW_{n}"][0]) * FLOW_TEMPERATURE**n for n in range(4)]
    flow = format_quantity(sum(powers) / 1000.0, "volume_flow", "L/min")
    return f"{flow} (valve at {format_quantity(value, 'fraction')})"


def _respelled(question: Question, change: Callable[[Spell], Spell]) -> Question:
    run = question.scenario.run
    outing = tuple(change(spell) for spell in run.outing)
    return _rerun(question, run.model_copy(update={"outing": outing}))


def _rerun(question: Question, run: Run) -> Question:
    return replace(question, scenario=replace(question.scenario, run=run))


def _is_stay(question: Question, spell: Spell) -> bool:
    away = spell.places != (home_of(question.scenario),)
    return away and spell.duration is not None


def _stay(question: Question) -> float:
    spells = question.scenario.run.outing
    lasting = [s.duration.nominal for s in spells if _is_stay(question, s) and s.duration]
    return sum(lasting)


def _stays(question: Question) -> Sequence[float]:
    planned = _stay(question)
    if planned <= 0.0:
        return []
    most = planned + LONGER_STAY * MINUTE
    return _with_planned(_row(MINUTE, most + 1.0, MINUTE), planned, bold_is_less=False)


def _stay_changed(question: Question, value: float) -> Question:
    factor = value / _stay(question)

    def stretched(spell: Spell) -> Spell:
        if not _is_stay(question, spell) or spell.duration is None:
            return spell
        lasting: Quantity = exactly(factor * spell.duration.nominal, "time")
        return spell.model_copy(update={"duration": lasting})

    return _respelled(question, stretched)


def _stay_words(_question: Question, value: float) -> str:
    return f"{value / MINUTE:.0f} min of stays away from the bay"


def _posts(question: Question) -> tuple[str, ...]:
    """Where a tender may wait, from beside the wearer to the bay: nearest to the outing first."""
    station, home = question.scenario.station, home_of(question.scenario)
    touched = [place for spell in question.scenario.run.outing for place in spell.places]

    def from_home(place: str) -> float:
        way = paths_between(station, home, place)
        return path_length(station, way) if way is not None else 0.0

    return (ALONG, *sorted(dict.fromkeys(touched), key=from_home, reverse=True))


def _post(question: Question) -> float:
    posts, tender = _posts(question), question.scenario.run.hands.tender
    return float(posts.index(tender)) if tender in posts else float(len(posts) - 1)


def _post_changed(question: Question, value: float) -> Question:
    run = question.scenario.run
    post = _posts(question)[int(value)]
    hands = run.hands.model_copy(update={"tender": post})
    return _rerun(question, run.model_copy(update={"help": hands}))


def _post_words(question: Question, value: float) -> str:
    post = _posts(question)[int(value)]
    return "a tender beside the wearer" if post == ALONG else f"a tender at {post}"


# In the order of what they cost a crew, the cheapest first; assumed.
INVERSES: dict[str, Inverse] = {
    "tender": Inverse(
        "how far away the tender may wait",
        lambda question: _row(0, len(_posts(question))),
        _post,
        _post_changed,
        _post_words,
    ),
    "flow": Inverse(
        "the least flow of cooling water",
        _valves,
        _valve,
        _valve_changed,
        _flow_words,
        "nothing is cooled by the pack in this run",
    ),
    "reservoir": Inverse(
        "the warmest reservoir at the start",
        _starts,
        _start,
        _suit_value("reservoir", "start_temperature", kind="temperature"),
        _told("temperature"),
    ),
    "ice": Inverse(
        "the least ice", _ices, _ice, _suit_value("reservoir", "ice", kind="mass"), _told("mass")
    ),
    "pack": Inverse(
        "the heaviest pack", _packs, _pack, _suit_value("pack_mass", kind="mass"), _told("mass")
    ),
    "outing": Inverse(
        "the longest outing",
        _stays,
        _stay,
        _stay_changed,
        _stay_words,
        "this run has no stay away from the bay",
    ),
}
