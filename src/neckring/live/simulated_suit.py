"""A suit that is not there: its hidden truth, and the packs its sensors would send.

The truth runs in run time, from 1 to 20 times as fast as the clock on the wall, on the planned
run's own kernel. It follows what is done on the console: the spells that are begun, the turn for
home, and the kit as the steps recorded have it. Readings leave as SenML packs and come in where
every sensor's do, so that nothing downstream can tell.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from neckring.constants import CELSIUS_ZERO, GAS_CONSTANT
from neckring.live.doing import Doing
from neckring.live.fault_catalogue import AT, NO_ANSWER
from neckring.live.fault_modes import NUMBER
from neckring.live.kit_says import KitSays
from neckring.live.likelihood import PRESSURES, READ
from neckring.live.sensors.channels import Channel
from neckring.live.sensors.gas_reference import ASSUMED_AIR_TEMPERATURE, GasConditions
from neckring.live.truth import HiddenTruth
from neckring.outing import breakage
from neckring.outing.breakage import Rows
from neckring.outing.failures import FAILURES, Failure, in_the_suit
from neckring.outing.scenario import Scenario
from neckring.outing.spells import OPEN_FLOW
from neckring.station.run import Spell
from neckring.station.ucum import CODES, UnitCode, codes_of
from neckring.suit.moist_air import saturation_pressure

Json = dict[str, str | float]

# How far a sensor is off, in its accuracies, when a trainer lets it say too much; assumed.
OFFSET_ACCURACIES = 30.0
NOT_BELOW_NOUGHT = ("volume_flow", "fraction", "voltage")


def open_face(_scenario: Scenario, _spell: Spell, rows: Rows) -> Rows:
    """Visor or helmet open: the helmet's air is the room's, and nothing is breathed again."""
    still = 0.0 * rows["REBREATHED_CO2"]
    return {"OPEN_HELMET": still + OPEN_FLOW, "REBREATHED_CO2": still}


FACE_OPEN = Failure("face-open", "the face is open to the room", in_the_suit, open_face)
NO_AIR = Failure("kit-no-air", "no air is given by the kit", in_the_suit, breakage.no_air)
NO_WATER = Failure("kit-no-water", "no water is given by the kit", in_the_suit, breakage.no_water)
OF_THE_KIT = {failure.code: failure for failure in (NO_AIR, NO_WATER, FACE_OPEN)}
_STRIKES = frozenset(failure.code for failure in FAILURES)


class SuitedTruth(HiddenTruth):
    """The hidden truth of one wearer, with what the kit on the console makes of it."""

    def follow_kit(self, codes: frozenset[str]) -> None:
        """Let the kit's state act: codes of `OF_THE_KIT`, those not named no more."""
        for code, failure in OF_THE_KIT.items():
            self.holds(failure, code in codes)

    def planned_spell(self, doing: Doing) -> Spell:
        """The spell as planned."""
        return self.scenario.run.outing[doing.number]

    def shown(self) -> dict[str, float]:
        """What sensors without error would say, also of what no estimate is weighed by [SI]."""
        found = self.true()
        if self.doing is None or self.now is None:
            return found
        members = self.members
        # A sensor in standing water, or of a pump at rest, still says something.
        always = {name: float(read(members)[0]) for name, read in READ.items()}
        found = always | dict.fromkeys(PRESSURES, 0.0) | found
        pressure = float(members.suited.pressure[0])
        vapour = float(members.read("INSPIRED_WATER_PRESSURE")[0])
        helmet = float(members.read("HELMET_TEMPERATURE")[0])
        moles = float((members.read("AIR_TO_HELMET") + members.read("AIR_TO_SUIT"))[0])
        saturated = float(np.asarray(saturation_pressure(np.clip(helmet, -30.0, 90.0))))
        return found | {
            "air_flow": moles * GAS_CONSTANT * (helmet + CELSIUS_ZERO) / (pressure - vapour),
            "helmet_humidity": vapour / saturated,
            "suit_air_temperature": float(members.read("SUIT_TEMPERATURE")[0]),
            "skin_temperature": float(members.read("MEAN_SKIN")[0]),
            "helmet_temperature": helmet,
        }


@dataclass(frozen=True)
class Sent:
    """One pack.

    Attributes:
        wearer: A or B.
        run_time: At which it was measured [s].
        pack: SenML in JSON, as bytes.
    """

    wearer: str
    run_time: float
    pack: bytes


@dataclass(frozen=True)
class Conduct:
    """What the log book says of one wearer, as far as a simulated suit follows it.

    Attributes:
        doing: The spell.
        faults: Those in force, code to share.
        kit: What the steps recorded say; None when nobody records steps.
    """

    doing: Doing
    faults: Mapping[str, float]
    kit: KitSays | None


@dataclass
class SimulatedSuit:
    """One wearer's simulated suit.

    What it sends depends on its seed and on what was recorded when, and on nothing else: neither
    the pace at which it is asked to go on nor a restart changes it.

    Attributes:
        wearer: A or B.
        truth: What really is.
        channels: Of the suit.
        air_pressure: At the station [Pa].
        seed: Of the noise.
    """

    wearer: str
    truth: SuitedTruth
    channels: tuple[Channel, ...]
    air_pressure: float
    seed: int = 1
    _next: dict[str, float] = field(default_factory=dict)
    _stuck: dict[str, float] = field(default_factory=dict)
    _in_force: dict[str, float] = field(default_factory=dict)
    _conduct: Conduct | None = None
    _until: float = 0.0

    def __post_init__(self) -> None:
        """Begin the noise."""
        self._noise = np.random.default_rng((self.seed, 91))

    def go_on(self, to: float, conduct: Conduct, wall: Callable[[float], float]) -> list[Sent]:
        """Go on to a run time, and give the packs that were sent on the way.

        The truth itself goes no further than the last pack: where it is cut into steps must not
        depend on how often somebody looks.

        Args:
            to: Run time [s].
            conduct: What holds from where it was left until then.
            wall: Clock of the sensors at a run time [s], seconds since 1970.
        """
        if self._conduct is None:
            self._begin(conduct.doing)
        if conduct != self._conduct:
            self._change(conduct)
        sent = []
        while (at := min(self._next.values(), default=math.inf)) <= to:
            self.truth.advance(at, conduct.doing)
            pack = self._pack(at, conduct.faults, wall)
            if pack:
                sent.append(Sent(self.wearer, at, pack))
        self._until = max(self._until, to)
        return sent

    def _begin(self, doing: Doing) -> None:
        self.truth.advance(doing.begun, doing)
        self._until = doing.begun
        # Before the first step of the kernel nothing flows and no heart beats.
        self._next = {c.name: doing.begun + c.expected.every for c in self.channels}

    def _change(self, conduct: Conduct) -> None:
        """Let something else hold, from where it was left."""
        if self._conduct is not None:
            self.truth.advance(self._until, self._conduct.doing)
        self._conduct = conduct
        self._put_faults(conduct.faults)
        self.truth.follow_kit(of_the_kit(conduct.doing, self.truth, conduct.kit))

    def _put_faults(self, faults: Mapping[str, float]) -> None:
        """Put in what has begun and take out what has ended; sensors and people are not the kit."""
        kit = {code: share for code, share in faults.items() if _is_of_the_kit(code)}
        for code in [code for code in self._in_force if code not in kit]:
            self.truth.mends(code)
            del self._in_force[code]
        for code, share in kit.items():
            if self._in_force.get(code) != share:
                self.truth.breaks(code, share)
                self._in_force[code] = share

    def _pack(
        self, at: float, faults: Mapping[str, float], wall: Callable[[float], float]
    ) -> bytes:
        shown = self.truth.shown()
        helmet = shown.get("helmet_temperature", ASSUMED_AIR_TEMPERATURE)
        air = GasConditions(helmet, self.air_pressure)
        records: list[Json] = []
        for channel in self.channels:
            if self._next[channel.name] > at:
                continue
            self._next[channel.name] = at + channel.expected.every
            # Drawn in any case: a silent sensor must not change the noise of the others.
            noise = float(self._noise.standard_normal())
            wrong = _wrong(channel.name, faults)
            if channel.quantity not in shown or "sensor-silent" in wrong:
                continue
            value = self._said(channel, shown[channel.quantity], noise, wrong)
            records.append(_record(channel, value, wrong, air, wall(at)))
        return json.dumps(records).encode() if records else b""

    def _said(
        self, channel: Channel, true: float, noise: float, wrong: Mapping[str, float]
    ) -> float:
        """What a sensor says of a true value [SI]; never beyond what its kind can say."""
        value = true + channel.expected.accuracy * noise
        if channel.dimension in NOT_BELOW_NOUGHT or "fraction" in channel.dimensions:
            value = max(value, 0.0)
        if "sensor-offset" in wrong:
            value += wrong["sensor-offset"] * OFFSET_ACCURACIES * channel.expected.accuracy
        if "sensor-stuck" not in wrong:
            self._stuck.pop(channel.name, None)
            return value
        return self._stuck.setdefault(channel.name, value)


def _wrong(channel: str, faults: Mapping[str, float]) -> dict[str, float]:
    """What is wrong with a channel's sensor: code to share."""
    split = {code: code.split(AT) for code in faults if AT in code}
    return {parts[0]: faults[code] for code, parts in split.items() if parts[1] == channel}


def _is_of_the_kit(code: str) -> bool:
    return AT not in code and code != NO_ANSWER and (code in _STRIKES or code in NUMBER)


def of_the_kit(doing: Doing, truth: SuitedTruth, kit: KitSays | None) -> frozenset[str]:
    """What the kit's state changes against the spell as planned.

    The plan says what flows in a spell; a kit that was not so arranged, or whose visor was opened,
    wins. Where the steps recorded do not have the wearer in the suit they say nothing.

    Args:
        doing: The spell.
        truth: With the run's spells.
        kit: What the steps recorded say.
    """
    if kit is None or not kit.inside:
        return frozenset()
    spell = truth.planned_spell(doing)
    found = set()
    if spell.helmet_on and spell.air != "none":
        if not kit.fresh_air:
            found.add(NO_AIR.code)
        elif spell.air == "pack" and kit.without_fans:
            found.add(FACE_OPEN.code)
    if spell.cooling != "none" and kit.cooled is False:
        found.add(NO_WATER.code)
    return frozenset(found)


def _record(
    channel: Channel, value: float, wrong: Mapping[str, float], air: GasConditions, time: float
) -> Json:
    """One SenML record of a value in SI."""
    unit = channel.unit
    # A gas's flow or share as the channel states it; for all else the factor is one.
    stated = value / channel.actual(1.0, unit.dimension, air)
    number = in_unit(other_unit(channel) if "sensor-wrong-unit" in wrong else unit, stated)
    record: Json = {"n": sent_name(channel), "v": number}
    if unit.code != "%":  # In SenML's own registry that sign is a plain ratio.
        record["u"] = unit.code
    if channel.has_clock:
        record["t"] = time
    return record


def in_unit(unit: UnitCode, value: float) -> float:
    """A value in SI as a number in a unit."""
    zero, one = unit.to_si(0.0), unit.to_si(1.0)
    return (value - zero) / (one - zero)


def other_unit(channel: Channel) -> UnitCode:
    """A unit that a channel's might be mistaken for."""
    own = in_unit(channel.unit, 1.0)
    for code in codes_of(channel.unit.dimension):
        if abs(in_unit(CODES[code], 1.0) - own) > 1e-9 * abs(own):
            return CODES[code]
    return channel.unit


def sent_name(channel: Channel) -> str:
    """The name under which a channel's readings are sent: its own, wildcards filled."""
    name = channel.known_as.replace("*", "simulated").replace("+", "simulated")
    return name.replace("#", "simulated")
