"""From a run's state, its readings and estimates to the facts that alarms are judged by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from neckring.constants import CELSIUS_ZERO, GAS_CONSTANT, WATER_DENSITY
from neckring.live.alarm_facts import ChannelNow, ClockNow, DeskNow, Facts, WearerNow
from neckring.live.estimated import Estimated
from neckring.live.reading import Reading
from neckring.live.run_records import RunState
from neckring.live.run_sheet import RunSheet
from neckring.live.sensors.channels import Channel, Wired
from neckring.outing.plan import station_pressure
from neckring.outing.scenario import Scenario
from neckring.outing.spells import leg, spell_rows
from neckring.outing.way_home import home_of
from neckring.outing.wearing import GAS_TEMPERATURE
from neckring.station.limits import LimitSheet
from neckring.station.run import Spell

# What the pack's water is like where its flow is foreseen [degC]; a share of it is all that counts.
COOL_WATER = 15.0

Latest = Mapping[str, Mapping[str, Reading]]


@dataclass
class AlarmWatch:
    """What is fixed for the day about alarms.

    Attributes:
        sheet: What is carried out.
        limits: The signed sheet.
        scenarios: Of each wearer, as written, one member.
        wired: Each wearer's channels.
    """

    sheet: RunSheet
    limits: LimitSheet
    scenarios: Mapping[str, Scenario]
    wired: Mapping[str, Wired]
    _flows: dict[tuple[str, int], dict[str, float]] = field(default_factory=dict)

    def facts(
        self,
        state: RunState,
        run_time: float,
        latest: Latest,
        estimates: Mapping[str, Estimated],
        desk: DeskNow,
    ) -> Facts:
        """Everything known at one instant.

        Args:
            state: Of the run.
            run_time: [s]
            latest: The last reading of each channel by wearer, flaws and all (`Intake.latest`).
            estimates: The last of each wearer.
            desk: The console itself; whether a stop stands is taken from the state.
        """
        wearers = tuple(
            self._wearer(letter, state, run_time, latest.get(letter, {}), estimates.get(letter))
            for letter in self.sheet.letters
        )
        known = DeskNow(**{**desk.__dict__, "stopped": stopped_words(state)})
        return Facts(run_time, self.limits, wearers, known)

    def _wearer(
        self,
        letter: str,
        state: RunState,
        run_time: float,
        latest: Mapping[str, Reading],
        estimate: Estimated | None,
    ) -> WearerNow:
        scenario, begun = self.scenarios[letter], state.spells.get(letter)
        spell = scenario.run.outing[begun.number] if begun is not None else None
        in_suit = spell is not None and spell.helmet_on
        calls = state.calls.get(letter)
        return WearerNow(
            letter,
            scenario.wearer.age.nominal,
            tuple(_channels(self.wired[letter].channels, latest, in_suit)),
            estimate,
            away=in_suit and is_away(scenario, spell) and letter not in state.turned_back,
            should_flow=self._should_flow(letter, begun.number) if begun is not None else {},
            cut_off_voltage=_cut_off(scenario, spell),
            missed_calls=calls.missed if calls is not None else 0,
            symptoms=symptoms_of(state, letter),
            clocks=tuple(self._clocks(letter, state, run_time)),
        )

    def _should_flow(self, letter: str, number: int) -> dict[str, float]:
        if (letter, number) not in self._flows:
            scenario = self.scenarios[letter]
            self._flows[letter, number] = should_flow(scenario, scenario.run.outing[number])
        return self._flows[letter, number]

    def _clocks(self, letter: str, state: RunState, run_time: float) -> list[ClockNow]:
        running = []
        for clock in self.sheet.clocks:
            now = state.clocks.get((clock.code, letter))
            lasts = clock.lasts.seconds
            # A clock that the plan or the estimate sets has alarms of its own.
            if clock.wearer != letter or now is None or now.ended is not None or lasts is None:
                continue
            left = now.started + lasts - run_time
            running.append(ClockNow(clock.code, clock.words, left))
        return running


def _channels(
    channels: tuple[Channel, ...], latest: Mapping[str, Reading], in_suit: bool
) -> list[ChannelNow]:
    """The channels that count: once one has sent, or once the wearer is in the suit."""
    return [
        ChannelNow(
            channel.name,
            channel.quantity,
            source_of(channel),
            latest.get(channel.name),
            (channel.expected.low, channel.expected.high),
        )
        for channel in channels
        if in_suit or channel.name in latest
    ]


def source_of(channel: Channel) -> str:
    """What a channel comes from: its name's beginning, where it has one."""
    name = channel.known_as
    cut = max(name.rfind(":"), name.rfind("/"))
    return name[:cut] if cut > 0 else "the suit's sensors"


def is_away(scenario: Scenario, spell: Spell | None) -> bool:
    """Whether a spell is elsewhere than at the bay."""
    return spell is not None and spell.places != (home_of(scenario),)


def _cut_off(scenario: Scenario, spell: Spell | None) -> float:
    on_pack = spell is not None and "pack" in (spell.cooling, spell.air)
    return scenario.suit.battery.cut_off_voltage.nominal if on_pack else 0.0


def should_flow(scenario: Scenario, spell: Spell) -> dict[str, float]:
    """Air and water that should flow in a spell [m3/s]; without what should not.

    Args:
        scenario: As written, one member.
        spell: Of its run.
    """
    pressure = station_pressure(scenario)
    rows = spell_rows(scenario, leg(scenario, spell), pressure)
    flows = {}
    if spell.air != "none" and spell.helmet_on:
        moles = rows["AIR_HELMET"] + rows["AIR_SUIT"]
        volume = moles * GAS_CONSTANT * (GAS_TEMPERATURE + CELSIUS_ZERO) / pressure
        flows["air_flow"] = float(volume[0])
    if spell.cooling != "none":
        terms = [rows.get(f"FLOW_{power}", np.zeros(1)) * COOL_WATER**power for power in range(4)]
        flows["water_flow"] = max(0.0, float(np.sum(terms))) / WATER_DENSITY
    return {name: flow for name, flow in flows.items() if flow > 0.0}


def symptoms_of(state: RunState, letter: str) -> tuple[str, ...]:
    """A wearer's symptoms that the medic has not released."""
    released = state.released.get(letter)
    return tuple(
        told.words
        for told in state.symptoms
        if told.wearer == letter and (released is None or released.entry < told.entry)
    )


def stopped_words(state: RunState) -> str:
    """Who called the stop that stands, for whom and why; empty when none stands."""
    if not state.stops:
        return ""
    first = state.stops[0]
    reason = f": {first.reason}" if first.reason else ""
    return f"{first.by} for {' and '.join(sorted(state.stopped))}{reason}"
