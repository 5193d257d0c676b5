"""A rehearsal of the demo at 20 times real time, through all the parts that its command opens.

Nobody waits for anybody: people tap as fast as they can, and only what must come by itself is
waited for.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from book_worlds import in_memory
from brokers import eventually
from console_here import wanted
from demo_day import LEAD, MEDIC, ROLES, SECOND, TENDER, TRAINER, WELL, good_reading

from neckring.live.drill import FITTING
from neckring.live.entries import Answer, Deed, Entry, Json, Kind
from neckring.live.turns import not_yet, steps_left
from neckring.rehearse_command import tell_drill
from neckring.served_run.making_ready import begin
from neckring.served_run.opening import Served, run_served
from neckring.served_run.shown import scores

SPEED = 20.0
PARTICLES = 64
AIR_ALARMS = frozenset(FITTING["fans"])
PATIENCE = 120.0
"""[s]; on a busy machine: nothing here is about how fast it is."""


@dataclass
class People:
    """Those who tap at the console."""

    served: Served
    taps: int = 0

    def tap(self, who: str, kind: Kind, **body: Json) -> Answer:
        self.taps += 1
        deed = Deed(
            f"{who}-{self.taps}", kind, who, ROLES[who], f"tab-{who}", body, time.time(), 0.0
        )
        return self.served.desk.take(deed)

    def does(self, who: str, kind: Kind, **body: Json) -> None:
        answer = self.tap(who, kind, **body)
        assert answer.status == "recorded", (kind, body, answer.why)

    def answer_calls(self) -> None:
        for letter, call in self.served.desk.state.calls.items():
            if call.due <= self.served.desk.clock.run_time():
                answers = dict(WELL)
                # At this speed a call may be missed between the look and the answer.
                self.tap(
                    MEDIC, Kind.CALL_ANSWERED, wearer=letter, call=call.number, answers=answers
                )

    def whole(self, code: str) -> None:
        """A procedure from its begin to its end, as fast as it can be tapped."""
        desk, sheet = self.served.desk, self.served.sheet
        self.does(LEAD, Kind.PROCEDURE_BEGUN, procedure=code)
        while left := [
            s for s in steps_left(desk.state, sheet) if not not_yet(desk.state, sheet, s)
        ]:
            step = left[0]
            body: dict[str, Json] = {"procedure": code, "step": step.number}
            measured = {"measured": good_reading(step)} if step.reads is not None else {}
            doer = TENDER if step.who == "tender" else LEAD
            self.does(doer, Kind.STEP_DONE, **body, **measured)
            if step.two_people:
                self.does(SECOND, Kind.STEP_CONFIRMED, **body)
            self.answer_calls()
        self.does(LEAD, Kind.PROCEDURE_ENDED, procedure=code)

    def spell(self, number: int) -> None:
        for letter in self.served.sheet.letters:
            self.does(LEAD, Kind.SPELL_BEGUN, wearer=letter, spell=number)

    def until(self, holds, what: str) -> None:
        """Wait for something that must come by itself, calls answered meanwhile."""

        def looked() -> bool:
            self.answer_calls()
            return bool(holds())

        assert eventually(looked, PATIENCE), what


@pytest.fixture
def served() -> Iterator[Served]:
    with in_memory() as folder:
        asked = wanted(Path(folder) / "kept", rehearsal=True, speed=SPEED, particles=PARTICLES)
        with run_served(asked) as made:
            made.keeper.start()
            assert any("not watched" in words for words in made.watch.troubles())
            begin(made)
            yield made


def entries(served: Served, kind: Kind) -> list[Entry]:
    return [entry for entry in served.book.entries() if entry.deed.kind is kind]


def test_a_rehearsal_from_dressing_to_a_fan_that_stops(
    served: Served, capsys: pytest.CaptureFixture[str]
) -> None:
    # Given two wearers dressed and changed over to their packs, on simulated suits
    people = People(served)
    people.until(lambda: served.watch.rehearsal, "the suits are made ready")
    assert served.watch.troubles() == ()
    people.spell(0)
    people.whole("dress")
    people.spell(2)
    people.whole("changeover")

    # When they are on the pack for a while
    people.until(
        lambda: all(len(estimates_of(served, letter)) >= 2 for letter in "AB"), "two rounds each"
    )

    # Then every channel comes and is good, though a run second passes in a twentieth of one, and
    # estimates stand on them
    people.until(lambda: not flawed(served), "all readings are good")
    for letter in "AB":
        rounds = estimates_of(served, letter)
        times = [float(str(entry.deed.body["for"])) for entry in rounds]
        assert times == sorted(set(times))
        assert rounds[-1].deed.body["stands_on"]

    # And when the trainer stops a fan, an alarm comes by itself
    people.does(TRAINER, Kind.FAULT_BEGUN, wearer="A", fault="fans", share=1.0)
    people.until(lambda: fan_alarm(served), "an alarm tells of the fan")
    people.does(MEDIC, Kind.ALARM_ACKNOWLEDGED, alarm=fan_alarm(served))
    people.does(LEAD, Kind.STOP, wearer="A", reason="no air")
    people.does(TRAINER, Kind.FAULT_ENDED, wearer="A", fault="fans")

    # Then the score names who noticed, when, and what was done
    (score,) = scores(served)
    assert (score.wearer, score.fault) == ("A", "the fans stop")
    assert score.noticed_by == MEDIC
    assert score.noticed is not None
    assert score.acted is not None
    assert 0.0 <= score.noticed <= score.acted
    tell_drill(served, keep=False)
    told = capsys.readouterr().out
    assert "the fans stop (fans)" in told
    assert "First alarm: after" in told
    assert f"{LEAD}, " in told


def estimates_of(served: Served, letter: str) -> list[Entry]:
    return [e for e in entries(served, Kind.ESTIMATE) if e.deed.body["wearer"] == letter]


def flawed(served: Served) -> dict[str, list[str]]:
    """Channels that are not there, or are not good, with why."""
    found: dict[str, list[str]] = {}
    latest = served.intake.latest(served.desk.clock.stamp().monotonic)
    for letter, wired in served.intake.wired.items():
        for channel in wired.channels:
            reading = latest.get(letter, {}).get(channel.name)
            flaws = ["nothing came"] if reading is None else sorted(reading.flaws)
            if flaws and not channel.is_topic:
                found[f"{letter}.{channel.name}"] = flaws
    return found


def fan_alarm(served: Served) -> str:
    """Key of an alarm about wearer A's air; empty for none."""
    keys = (
        key
        for key, alarm in served.desk.state.alarms.items()
        if alarm.wearer == "A" and alarm.cause in AIR_ALARMS
    )
    return next(keys, "")
