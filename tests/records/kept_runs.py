"""A rehearsed day of the demo in a kept folder, made in a second: real log book, real readings.

The clocks are set by hand, so that hours pass at once; what the sensors send is made from the plan
with noise of fixed seed. All of it is invented.
"""

from __future__ import annotations

import shutil
import sys
from functools import cache
from pathlib import Path

import numpy as np

from neckring.command_parts import question_about
from neckring.live.entries import Deed, Json, Kind, Role
from neckring.live.estimate_entry import estimate_deed
from neckring.live.estimated import Band, Estimated
from neckring.live.reading import Flaw, Reading
from neckring.live.readings_store import ReadingsStore
from neckring.live.sensors.channels import wire
from neckring.live.sqlite_book import SqliteBook
from neckring.live.trainer_scores import Scores
from neckring.outing.findings import Plan
from neckring.outing.plan import make_plan
from neckring.records.kept_run import KeptEntries, KeptRun, open_kept
from neckring.records.report_facts import Sources, run_report
from neckring.records.report_records import Provenance, RunReport
from neckring.records.report_sensors import sensor_facts

sys.path.insert(0, str(Path(__file__).parents[1] / "live"))

from demo_day import LEAD, MEDIC, SECOND, TENDER, TRAINER, Day, demo, sheet

RUNS = ("floor-survey", "floor-partner")
OPENED = 1_795_600_800.0
"""2026-11-25, 10:00 UTC."""
ESTIMATED = ("core_temperature", "heart_rate", "inspired_co2", "battery_charge")
READ = {
    "heart": ("heart_rate", 0.02),
    "water_in": ("water_inlet_temperature", 0.1),
    "reservoir": ("reservoir_temperature", 0.1),
    "co2": ("inspired_co2", 15.0),
    "battery": ("battery_voltage", 0.02),
}
EVERY = 5.0


@cache
def plan_of(letter: str) -> Plan:
    question = question_about(demo(), RUNS["AB".index(letter)], 0, 1)
    return make_plan(question.scenario, question.sheet)


class KeptDay(Day):
    """A day whose book lies in a folder, and who writes readings and estimates as time passes."""

    def __init__(self, folder: Path, rehearsal: bool = True) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        book = SqliteBook(folder / "log.sqlite", sheet(rehearsal).station)
        super().__init__(book=book, rehearsal=rehearsal)  # type: ignore[arg-type]
        self.hands.wall = OPENED
        self.store = ReadingsStore(folder / "readings.sqlite", every=3600.0)
        self.desk_deeds = 0
        self.draw = np.random.default_rng(7)

    def desk_says(self, kind: Kind, **body: Json) -> None:
        self.desk_deeds += 1
        deed = Deed(f"desk:{self.desk_deeds}", kind, "desk", Role.DESK, "desk", body)
        answer = self.desk.take(deed)
        assert answer.status == "recorded", answer.why

    def spell(self, number: int) -> None:
        for letter in "AB":
            self.does(LEAD, Kind.SPELL_BEGUN, wearer=letter, spell=number)

    def passes(self, seconds: float) -> None:
        """Time in which people only answer calls."""
        left = seconds
        while left > 0.0:
            step = min(left, 60.0)
            self.hands.pass_time(step)
            self.answer_calls()
            left -= step

    def answer_calls(self) -> None:
        now = self.desk.clock.run_time()
        for letter, call in self.state.calls.items():
            if call.due <= now:
                answers: dict[str, Json] = {"How do you feel?": "well"}
                self.does(
                    MEDIC, Kind.CALL_ANSWERED, wearer=letter, call=call.number, answers=answers
                )

    def estimates(self, letter: str) -> None:
        """One live estimate a little above the plan."""
        now = self.desk.clock.run_time()
        plan = plan_of(letter)
        at = float(np.interp(now, plan.trace["time"], np.arange(len(plan.trace["time"]))))
        bands = {}
        for name in ESTIMATED:
            middle = float(plan.trace[name][int(at)])
            wide = 0.02 * abs(middle)
            bands[name] = Band(middle - wide, middle, middle + wide)
        back = Band(4000.0, 4200.0, 4500.0)
        told = Estimated(letter, now, bands, (), back, "the fans stop", (), (), {}, 400.0)
        answer = self.desk.take(estimate_deed(told, "test"))
        assert answer.status == "recorded", answer.why

    def reads(self, until: float) -> None:
        """Readings of the whole run so far, at once; one stretch of A's heart is frozen."""
        times = np.arange(0.0, until, EVERY)
        for letter in "AB":
            trace = plan_of(letter).trace
            for channel, (quantity, noise) in READ.items():
                values = np.interp(times, trace["time"], trace[quantity])
                values = values + noise * self.draw.standard_normal(len(times))
                self.store.add(
                    Reading(
                        letter,
                        channel,
                        round(float(value), 4),
                        None,
                        500.0 + float(at),
                        float(at),
                        _flaws(letter, channel, float(at)),
                    )
                    for at, value in zip(times, values, strict=True)
                )

    def closes(self) -> None:
        self.store.close()
        self.book.close()


def _flaws(letter: str, channel: str, at: float) -> frozenset[Flaw]:
    frozen = (letter, channel) == ("A", "heart") and 1000.0 <= at < 1300.0
    return frozenset({Flaw.FROZEN}) if frozen else frozenset()


def make_kept(folder: Path, *, faults: bool = True, secret: str = "", estimates: int = 3) -> Path:
    """A whole day: dressing, a hold, a stop, deviations, a fault, alarms, the way home.

    Args:
        folder: Where it is kept.
        faults: Whether the trainer breaks the fans of A.
        secret: Stands in every free text.
        estimates: How many of each wearer in each spell.
    """
    day = KeptDay(folder, rehearsal=faults)
    day.opened()
    day.does(
        TRAINER,
        Kind.PAIRED,
        device=f"tablet{secret}".replace(" ", ""),
        role="trainer",
        person=TRAINER,
    )
    day.hands.pass_time(60.0)
    day.spell(0)
    _dresses(day, secret)
    day.spell(1)
    day.passes(120.0)
    day.spell(2)
    day.whole("changeover")
    day.whole("go")
    _outing(day, faults, secret, estimates)
    _comes_back(day, secret, accepts=faults)
    day.spell(13)
    day.whole("undress")
    for letter in "AB":
        day.does(MEDIC, Kind.RELEASED, wearer=letter)
    day.does(LEAD, Kind.RUN_CLOSED, reason=f"all stowed {secret}".strip())
    day.reads(day.desk.clock.run_time())
    day.closes()
    return folder


def _dresses(day: KeptDay, secret: str) -> None:
    day.begin("dress")
    first = day.next()
    assert first is not None
    _leaves_out(day, 3, f"they stand together anyway {secret}".strip())
    body: dict[str, Json] = {"procedure": "dress", "step": first.number}
    words = f"the sign was not there {secret}".strip()
    day.does(TENDER, Kind.STEP_FAILED, what=words, **body)
    for _ in range(6):
        step = day.next()
        assert step is not None
        day.done(step)
    day.does(TENDER, Kind.HOLD, reason=f"a strap is twisted {secret}".strip())
    day.hands.pass_time(90.0)
    day.does(LEAD, Kind.RESUME, reason=f"straight again {secret}".strip())
    step = day.next()
    assert step is not None
    day.done(step, seconds=400.0)
    while (step := day.next()) is not None:
        day.done(step)
        day.answer_calls()
    day.does(LEAD, Kind.PROCEDURE_ENDED, procedure="dress")
    assert day.tap(SECOND, Kind.RESUME, reason=f"by a tender {secret}").status == "refused"


def _outing(day: KeptDay, faults: bool, secret: str, estimates: int) -> None:
    outing = day.sheet.wearers["A"].run.outing
    for number in range(3, 12):
        day.spell(number)
        if number == 6 and faults:
            _fans_stop(day, secret)
        if number == 7:
            day.does(MEDIC, Kind.SYMPTOM, wearer="B", words=f"light headache {secret}".strip())
            day.does(LEAD, Kind.NOTE, words=f"wind from the east {secret}".strip(), wearer="")
        if number == 9:
            day.does(LEAD, Kind.TURN_BACK, wearer="A", reason=f"enough {secret}".strip())
        lasts = outing[number].duration
        seconds = lasts.nominal if lasts else 300.0
        for _ in range(estimates):
            day.passes(seconds / estimates)
            for letter in "AB":
                day.estimates(letter)
    day.spell(12)


def _comes_back(day: KeptDay, secret: str, accepts: bool) -> None:
    """With the visor open since the fans stood still, which the lead accepts."""
    body: dict[str, Json] = {"procedure": "return"}
    if accepts:
        body |= {"accepts": True, "reason": f"visor open since the drill {secret}".strip()}
    day.does(LEAD, Kind.PROCEDURE_BEGUN, **body)
    while (step := day.next()) is not None:
        if accepts and step.exact.name.startswith("open_visor on A"):
            _leaves_out(day, step.number, f"it is open already {secret}".strip())
        else:
            day.done(step)
        day.answer_calls()
    day.does(LEAD, Kind.PROCEDURE_ENDED, procedure="return")


def _leaves_out(day: KeptDay, number: int, reason: str) -> None:
    possible = day.desk.ask(number)
    assert possible is not None
    body: dict[str, Json] = {"procedure": day.state.procedure, "step": number, "accepts": True}
    day.does(LEAD, Kind.STEP_LEFT_OUT, reason=reason, shown=possible.shown, **body)


def _fans_stop(day: KeptDay, secret: str) -> None:
    day.does(TRAINER, Kind.FAULT_BEGUN, wearer="A", fault="fans", share=1.0)
    day.hands.pass_time(12.0)
    day.desk_says(
        Kind.ALARM_RAISED,
        alarm="air-lost/A/",
        rank=3,
        cause="air-lost",
        wearer="A",
        words=f"The air flow is lost {secret}".strip(),
        first_action="Fresh air at the face at once",
        also=[],
    )
    day.hands.pass_time(6.0)
    day.does(SECOND, Kind.ALARM_ACKNOWLEDGED, alarm="air-lost/A/")
    day.does(TENDER, Kind.STOP, reason=f"fans of A {secret}".strip(), wearer="A")
    day.does(LEAD, Kind.CARD_OPENED, card="air-lost", wearer="A")
    day.hands.pass_time(20.0)
    day.does(TENDER, Kind.CARD_STEP_DONE, card="air-lost", wearer="A", step=1)
    day.hands.pass_time(60.0)
    day.does(TRAINER, Kind.FAULT_ENDED, wearer="A", fault="fans")
    day.desk_says(Kind.ALARM_ENDED, alarm="air-lost/A/")
    day.does(LEAD, Kind.CARD_CLOSED, card="air-lost", wearer="A", reason=f"air again {secret}")
    day.does(LEAD, Kind.RESUME, reason=f"air is back {secret}".strip())
    day.desk_says(Kind.CALL_MISSED, wearer="B", call=day.state.calls["B"].number)


def copied(kept: Path, to: Path) -> Path:
    """A folder of its own to break things in."""
    shutil.copytree(kept, to)
    return to


def opened(kept: Path) -> KeptRun:
    return open_kept(kept, "", sheet())


def report_of(kept: Path, with_plans: bool = True) -> RunReport:
    """A kept run's report, without the proofs that its help clock would take."""
    found = opened(kept)
    wearers = found.sheet.wearers.values()
    wired = wire((one.letter, demo().suits[one.run.suit]) for one in wearers)
    sensors = () if found.readings is None else sensor_facts(found.readings, wired)
    found.close()
    from_where = Provenance(
        "0.1", "neckring report", found.head, found.parts, found.changed, found.no_readings
    )
    return run_report(
        Sources(
            entries=found.entries,
            sheet=found.sheet,
            reaches=("bay",),
            provenance=from_where,
            plans={letter: plan_of(letter) for letter in "AB"} if with_plans else {},
            sensors=sensors,
            forms=found.forms,
            drill=Scores(KeptEntries(found.entries), found.sheet, {}).report(),
        )
    )
