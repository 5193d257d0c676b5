"""A run cut short, and inverse questions: the exact edge, found with few trials."""

from __future__ import annotations

import itertools
import math
import shutil
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scenarios import DEMO, one_spell, outing_of, scenario_of

import neckring.station
from neckring.outing import look_ahead
from neckring.outing.cut_run import cut_at
from neckring.outing.ensemble import Question, in_threads
from neckring.outing.inverse import INVERSES, Inverse
from neckring.outing.scenario import Scenario
from neckring.outing.solve import CHANGE, Trials, boldest, cheapest_change, solve, solved
from neckring.outing.spells import legs
from neckring.plan_command import SOLVABLE
from neckring.station.loading import load_station
from neckring.station.run import Run, Spell
from neckring.station.variation import with_value
from neckring.units import Quantity

RUNS = tuple(sorted(DEMO.runs))

# A run cut short


def lasting(scenario: Scenario, run: Run) -> float:
    return sum(leg.duration for leg in legs(replace(scenario, run=run)))


@settings(max_examples=60)
@given(st.sampled_from(RUNS), st.floats(0.0, 1.0))
def test_a_cut_run_goes_home_and_is_never_longer(code, share):
    # Given a demo run that is cut anywhere,
    scenario = scenario_of(code)
    ready = legs(scenario)
    whole = sum(leg.duration for leg in ready)
    time = share * whole
    shorter = cut_at(scenario, ready, time)
    # then there is none on a path, before it begins, or when the wearer is back for good;
    ends = np.cumsum([leg.duration for leg in ready])
    spell = ready[min(int(np.searchsorted(ends, time)), len(ready) - 1)].spell
    if shorter is None:
        back = max(n for n, leg in enumerate(ready) if leg.spell.places != ("bay",))
        assert spell.starts_at != spell.ends_at or time < 1.0 or time > ends[back] - 1e-6
        return
    # otherwise it is the same until then, goes home from place to place, and is no longer.
    assert lasting(scenario, shorter) <= whole + 1e-6
    spells = shorter.outing
    assert spells[0].starts_at == spells[-1].ends_at == "bay"
    assert all(a.ends_at == b.starts_at for a, b in itertools.pairwise(spells))
    before = sum(1 for end in ends if end <= time)
    assert spells[:before] == scenario.run.outing[:before]
    assert spells[-1] == scenario.run.outing[-1]


def test_a_cut_in_a_stay_keeps_what_was_done_of_it():
    # Given three minutes of kneeling in the yard, of which one is done,
    scenario = scenario_of("yard-walk")
    ready = legs(scenario)
    kneeling = next(n for n, leg in enumerate(ready) if leg.spell.spell == "kneel")
    begins = sum(leg.duration for leg in ready[:kneeling])
    shorter = cut_at(scenario, ready, begins + 60.0)
    # then it ends after that minute and the wearer walks home as slowly as planned.
    assert shorter is not None
    kneel, home, *rest = shorter.outing[kneeling:]
    assert (kneel.spell, kneel.duration.nominal) == ("kneel", pytest.approx(60.0))
    assert (home.spell, home.places, home.speed.nominal) == ("walk", ("yard", "bay"), 0.6)
    assert (home.air, home.cooling, home.helmet_on) == ("pack", "pack", True)
    assert tuple(rest) == scenario.run.outing[-3:]


def test_a_run_whose_way_home_is_unknown_is_not_cut():
    # Given a wearer who rides to the bench and is never brought back,
    lost = outing_of(one_spell("rest", place="bay"), one_spell("rest", place="bench"))
    assert cut_at(lost, legs(lost), 15000.0) is None


def as_text(run: Run) -> str:
    """A run as its file: everything is stated in every spell."""

    def value(part: object) -> str:
        return part.text if isinstance(part, Quantity) else str(part)

    def line(spell: Spell) -> str:
        named = [(f.alias or n, getattr(spell, n)) for n, f in type(spell).model_fields.items()]
        keys = (f'{key}: "{value(part)}"' for key, part in named if part is not None)
        return f"  - {{{', '.join(keys)}}}"

    head = {"code": run.code, "title": run.title, "wearer": run.wearer, "suit": run.suit}
    head |= {"date": run.date.isoformat(), "start": f"{run.start:%H:%M}"}
    rows = [f'{key}: "{text}"' for key, text in head.items()]
    return "\n".join([*rows, "outing:", *map(line, run.outing)]) + "\n"


@pytest.mark.parametrize("code", RUNS)
def test_a_cut_run_is_accepted_as_a_file(code, tmp_path: Path):
    # Given a demo run cut in each of its stays away from the bay,
    scenario = scenario_of(code)
    ready = legs(scenario)
    begins = np.cumsum([0.0, *(leg.duration for leg in ready)])
    stays = [n for n, leg in enumerate(ready) if "bay" not in leg.spell.places and leg.spell.place]
    cuts = [cut_at(scenario, ready, begins[n] + 0.4 * ready[n].duration) for n in stays]
    assert len(cuts) >= 2
    for shorter in cuts:
        assert shorter is not None
        # when it is written down and the station is read again,
        station = tmp_path / f"station-{len(list(tmp_path.iterdir()))}"
        shutil.copytree(Path(neckring.station.__file__).parent / "demo", station)
        file = next(f for f in (station / "runs").iterdir() if f.stem == code)
        file.write_text(as_text(shorter))
        # then no rule of the schema is broken, and it says the same.
        read = load_station(station).runs[code]
        assert lasting(scenario, read) == pytest.approx(lasting(scenario, shorter), abs=5.0)


# The boldest value

ANY = Question(scenario_of("yard-walk"), DEMO.limits)


@dataclass
class Oracle(Trials):
    """Says go up to an edge, and counts what it is asked."""

    edge: int = 0
    asked: list[int] = field(default_factory=list)

    def go(self, question: Question, words: str) -> bool:
        """Go for the first `edge` values."""
        self.asked.append(int(words))
        return int(words) < self.edge


def row_of(count: int, planned: int) -> Inverse:
    """A question with values 0, 1, ... from careful to bold."""
    return Inverse(
        "the boldest number",
        lambda _: [float(n) for n in range(count)],
        lambda _: float(planned),
        lambda question, _: question,
        lambda _, value: f"{value:.0f}",
    )


@settings(max_examples=400)
@given(st.data())
def test_the_exact_edge_is_found_wherever_it_is_and_with_few_trials(data):
    count = data.draw(st.integers(1, 150))
    planned = data.draw(st.integers(0, count - 1))
    edge = data.draw(st.integers(0, count))
    oracle = Oracle(in_threads(1), 1, lambda _: None, edge)
    inverse = row_of(count, planned)
    found = boldest(inverse, ANY, inverse.values(ANY), oracle)
    assert found == (None if edge == 0 else edge - 1)
    # Nothing is asked twice, and no more than halving takes beside a few probes.
    assert len(oracle.asked) == len(set(oracle.asked))
    assert len(oracle.asked) <= math.ceil(math.log2(count)) + 6


@given(st.integers(1, 40), st.integers(0, 40), st.data())
def test_what_is_said_follows_from_the_edge(count, edge, data):
    planned = data.draw(st.integers(0, count - 1))
    oracle = Oracle(in_threads(1), 1, lambda _: None, edge)
    with pytest.MonkeyPatch.context() as patched:
        patched.setitem(INVERSES, "pack", row_of(count, planned))
        answer = solve(ANY, "pack", oracle)
    assert answer.present == str(planned)
    assert answer.enough == (edge > 0)
    last = min(edge, count) - 1
    assert answer.answer == ("not even 0 makes it a go" if edge == 0 else str(last))
    assert answer.changed == (edge > 0 and last != planned)


def test_a_question_that_cannot_be_asked_says_so_and_tries_nothing():
    dry = outing_of(one_spell("rest", place="bay"), one_spell("rest", place="yard"))
    oracle = Oracle(in_threads(1), 1, lambda _: None, 99)
    answer = solve(Question(dry, DEMO.limits), "flow", oracle)
    assert answer.answer == "nothing is cooled by the pack in this run"
    assert not answer.enough
    assert oracle.asked == []


@pytest.mark.parametrize("code", INVERSES)
def test_every_question_has_its_planned_value_in_its_row_and_changes_only_that(code):
    question = Question(scenario_of("floor-survey"), DEMO.limits)
    inverse = INVERSES[code]
    values = list(inverse.values(question))
    planned = inverse.planned(question)
    assert planned in values
    assert values in (sorted(values), sorted(values, reverse=True))
    # As planned nothing changes but texts; another value is what is planned then.
    same = inverse.changed(question, planned)
    assert lasting(same.scenario, same.scenario.run) == pytest.approx(
        lasting(question.scenario, question.scenario.run)
    )
    for value in (values[0], values[-1]):
        changed = inverse.changed(question, value)
        assert inverse.planned(changed) == pytest.approx(value)
        assert inverse.words(question, value)


# Real questions


def with_a_tender(place: str) -> Question:
    """Some minutes in the yard, 40 m from the bay, for a wearer who cannot open the helmet."""
    keys = {"valve": "50 %", "helmet": "on", "for": "3 min"}
    dressed = {"place": "bay", "cooling": "facility", "air": "facility", **keys}
    outing = (
        one_spell("dress", **dressed),
        one_spell("stand", place="yard", cooling="pack", air="pack", **keys),
        one_spell("undress", **dressed),
    )
    scenario = outing_of(*outing, code="yard-walk")
    run = with_value(scenario.run, ("help", "tender"), place)
    return Question(replace(scenario, run=run), DEMO.limits, members=32)


def test_where_the_tender_must_stand_end_to_end(monkeypatch):
    monkeypatch.setattr(look_ahead, "FEW_MEMBERS", 16)
    told: list[str] = []
    trials = Trials(in_threads(2), 2, told.append)
    beside, far = with_a_tender("along"), with_a_tender("bay")
    # Given a run that is a go with a tender beside the wearer and not with one at the bay,
    assert trials.go(beside, "beside")
    assert not trials.go(far, "far")
    # when it is asked where the tender must stand, from either plan,
    answers = [solve(question, "tender", trials) for question in (beside, far)]
    # then it is the same place, the boldest that is a go itself.
    assert {a.answer for a in answers} == {"a tender at yard"}
    assert [a.enough for a in answers] == [True, True]
    assert answers[1].present == "a tender at bay"
    assert told[0] == "trying beside"
    # Two questions are answered in the order asked, each once.
    both = solved(far, ["tender", "flow", "tender"], trials)
    assert [a.code for a in both] == ["tender", "flow"]


def test_the_cheapest_change_that_makes_it_a_go_comes_first(monkeypatch):
    monkeypatch.setattr(look_ahead, "FEW_MEMBERS", 16)
    kept = {code: INVERSES[code] for code in ("tender", "flow")}
    for code in set(INVERSES) - set(kept):
        monkeypatch.delitem(INVERSES, code)
    found = cheapest_change(with_a_tender("bay"), Trials(in_threads(2), 2, lambda _: None))
    # Moving the tender helps; no flow of water brings air.
    assert [answer.code for answer in found] == ["tender"]


def test_the_command_offers_every_question_and_no_other() -> None:
    assert set(SOLVABLE) == {*INVERSES, CHANGE}
