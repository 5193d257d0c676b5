"""Where all readings come in: placed on their channels, converted, judged, and the last ones kept.

Sources call `place` or `take` from threads of their own. Nothing that comes in is lost from sight:
what belongs to no channel, or cannot be read, is counted and told with its reason.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from neckring.live.entries import Stamp
from neckring.live.reading import Flaw, Reading
from neckring.live.sensors.channels import HELMET_AIR, Channel, Wired
from neckring.live.sensors.gas_reference import ASSUMED_AIR_TEMPERATURE, GasConditions
from neckring.live.sensors.quality import Arrived, Memory, assess, clock_is_off, is_stale
from neckring.live.sensors.record import Record
from neckring.live.sensors.senml import parse_pack

MOST_TOLD = 200
"""So many different complaints are kept; older ones make room."""

MOST_NAMES = 2000
"""So many names as sent are remembered with what they mean."""


@dataclass(frozen=True)
class Untaken:
    """What came in and became no reading.

    Attributes:
        source: Wearer, or where it came from.
        name: As sent; empty when the message could not be read.
        why: In words for people.
        count: How often.
        last: Run time of the last one [s].
    """

    source: str
    name: str
    why: str
    count: int
    last: float


@dataclass
class _State:
    """What is kept of one channel of one wearer."""

    memory: Memory = field(default_factory=Memory)
    last: Reading | None = None
    last_good: Reading | None = None
    lag: float = 0.0
    good_lag: float = 0.0
    previous: tuple[float | None, float] | None = None
    supposed: tuple[str, ...] = ()
    stands_on: tuple[str, ...] = ()

    def keep(self, reading: Reading, lag: float) -> None:
        """Keep a reading as the last one, unless one that was measured later came before it."""
        if self.last and self.last.received - self.lag > reading.received - lag:
            return
        self.last, self.lag = reading, lag
        if reading.good:
            self.last_good, self.good_lag = reading, lag


class Intake:
    """The one place for readings of all wearers."""

    def __init__(self, wired: Iterable[Wired], air_pressure: float, speed: float = 1.0) -> None:
        """Begin without any reading.

        Args:
            wired: Wearers with their channels.
            air_pressure: At the station [Pa].
            speed: Run time against real time, in a rehearsal; ages count in run time.
        """
        self.wired: Mapping[str, Wired] = {each.wearer: each for each in wired}
        self._air_pressure = air_pressure
        self._speed = speed
        self._channels = {
            (each.wearer, channel.name): channel
            for each in self.wired.values()
            for channel in each.channels
        }
        self._meant: dict[tuple[str, str], tuple[Channel, ...]] = {}
        self._anchor: float | None = None
        self._lock = threading.Lock()
        self._states: dict[tuple[str, str], _State] = {}
        self._untaken: OrderedDict[tuple[str, str, str], Untaken] = OrderedDict()

    def set_speed(self, speed: float) -> None:
        """From now on run time passes at another speed; a rehearsal's own business.

        Args:
            speed: Run time against real time [1].
        """
        self._speed = speed

    def wall_at(self, received: Stamp) -> float:
        """The desk's clock as it would be had nobody set it since the first message.

        Else a clock that is set back during a run would put every sensor's clock in the wrong.

        Args:
            received: A stamp.

        Returns:
            Seconds since 1970.
        """
        if self._anchor is None:
            self._anchor = received.wall - received.monotonic
        return self._anchor + received.monotonic

    def wearer_of(self, who: str) -> str | None:
        """The wearer whom a letter, or the code of a suit, means; None for nobody."""
        if who in self.wired:
            return who
        wearing = [each.wearer for each in self.wired.values() if each.suit == who]
        return wearing[0] if len(wearing) == 1 else None

    def take(self, wearer: str, pack: bytes, received: Stamp) -> list[Reading]:
        """Take in a SenML pack.

        Args:
            wearer: A or B, or the code of a suit.
            pack: JSON text.
            received: When it arrived.

        Returns:
            A reading for each record that belongs to a channel, with its flaws.

        Raises:
            MessageError: It is no pack that is understood; nothing of it was taken.
        """
        parsed = parse_pack(pack, self.wall_at(received))
        for name in parsed.without_number:
            self.tell(wearer, name, "it has no number", received)
        return self.place(wearer, parsed.records, received)

    def place(
        self, who: str, records: Iterable[Record], received: Stamp, registry: bool = True
    ) -> list[Reading]:
        """Make readings of records.

        Args:
            who: A or B, or the code of a suit.
            records: In the order of their times.
            received: When they arrived.
            registry: Whether units are those of the SenML registry, or plain UCUM codes.
        """
        wearer = self.wearer_of(who)
        made: list[Reading] = []
        with self._lock:
            for record in records:
                if wearer is None:
                    self._tell(who, record.name, "no wearer and no suit of this run", received)
                    continue
                reading = self._placed(self.wired[wearer], record, received, registry)
                if reading is not None:
                    made.append(reading)
        return made

    def _placed(
        self, wired: Wired, record: Record, received: Stamp, registry: bool
    ) -> Reading | None:
        channels = self._meant_by(wired, record.name)
        if len(channels) != 1:
            names = ", ".join(channel.name for channel in channels)
            why = f"it may be any of {names}" if channels else "no sensor of the suit has this name"
            self._tell(wired.wearer, record.name, why, received)
            return None
        try:
            return self._judged(wired.wearer, channels[0], record, received, registry)
        except ValueError as wrong:
            self._tell(wired.wearer, record.name, str(wrong), received)
            return None

    def _meant_by(self, wired: Wired, name: str) -> tuple[Channel, ...]:
        key = (wired.wearer, name)
        found = self._meant.get(key)
        if found is None:
            if len(self._meant) >= MOST_NAMES:
                self._meant.clear()
            found = self._meant[key] = wired.meant_by(name)
        return found

    def _judged(
        self, wearer: str, channel: Channel, record: Record, received: Stamp, registry: bool
    ) -> Reading | None:
        state = self._states.setdefault((wearer, channel.name), _State())
        air, warmth = self._air(wearer, received)
        stated, dimension = channel.as_stated(record.value, record.unit, registry)
        value = stated if record.is_actual else channel.actual(stated, dimension, air)
        time = record.time if channel.has_clock else None
        if time is not None and not record.relative and (time, value) == state.previous:
            return None  # The same reading a second time, as QoS 1 allows.
        state.previous = (time, value)
        rivals: Mapping[str, float] = {}
        if not channel.expected.is_plausible(value):
            rivals = channel.rival_values(record.value, air)
        wall = self.wall_at(received)
        arrived = Arrived(value, 0.0, time, wall, rivals, record.relative)
        lag = 0.0 if time is None or clock_is_off(arrived) else max(wall - time, 0.0)
        arrived = replace(arrived, at=received.run_time - lag * self._speed)
        flaws, state.memory = assess(channel.expected, state.memory, arrived)
        reading = Reading(
            wearer, channel.name, value, time, received.monotonic, received.run_time, flaws
        )
        state.keep(reading, lag)
        if Flaw.UNIT in flaws:
            state.supposed = tuple(
                code for code, other in rivals.items() if channel.expected.is_plausible(other)
            )
        state.stands_on = (channel.name,)
        if warmth and channel.is_flow_of_air and channel.reference and not record.is_actual:
            state.stands_on = (channel.name, warmth)
        return reading

    def _air(self, wearer: str, received: Stamp) -> tuple[GasConditions, str]:
        """The air in the helmet, and the channel that tells its temperature; "" when assumed."""
        for channel in self.wired[wearer].measuring(HELMET_AIR):
            state = self._states.get((wearer, channel.name))
            if state is None or state.last_good is None:
                continue
            age = received.monotonic - state.last_good.received + state.good_lag
            if not is_stale(channel.expected, age * self._speed):
                return GasConditions(state.last_good.value, self._air_pressure), channel.name
        return GasConditions(ASSUMED_AIR_TEMPERATURE, self._air_pressure), ""

    def latest(self, now: float) -> dict[str, dict[str, Reading]]:
        """The last reading of each channel, whatever its flaws, by wearer and channel.

        Args:
            now: The desk's monotonic clock [s]; what is too old by it is stale.
        """
        return self._aged(now, good=False)

    def last_good(self, now: float) -> dict[str, dict[str, Reading]]:
        """The same of the last reading without a flaw; stale, when it is too old."""
        return self._aged(now, good=True)

    def _aged(self, now: float, good: bool) -> dict[str, dict[str, Reading]]:
        found: dict[str, dict[str, Reading]] = {wearer: {} for wearer in self.wired}
        with self._lock:
            for (wearer, name), state in self._states.items():
                reading = state.last_good if good else state.last
                lag = state.good_lag if good else state.lag
                if reading is not None:
                    age = (now - reading.received + lag) * self._speed
                    found[wearer][name] = self._with_age(wearer, reading, age)
        return found

    def _with_age(self, wearer: str, reading: Reading, age: float) -> Reading:
        expected = self.channel(wearer, reading.channel).expected
        if not is_stale(expected, age):
            return reading
        return replace(reading, flaws=reading.flaws | {Flaw.STALE})

    def channel(self, wearer: str, name: str) -> Channel:
        """A channel by its name.

        Raises:
            KeyError: There is none.
        """
        return self._channels[wearer, name]

    def silent(self) -> dict[str, tuple[str, ...]]:
        """The channels of each wearer from which nothing has come yet."""
        with self._lock:
            return {
                wearer: tuple(
                    channel.name
                    for channel in wired.channels
                    if (wearer, channel.name) not in self._states
                )
                for wearer, wired in self.wired.items()
            }

    def stands_on(self, wearer: str, name: str) -> tuple[str, ...]:
        """The channels that the last value of a channel stands on, itself first.

        Raises:
            KeyError: There is no such channel.
        """
        self.channel(wearer, name)
        with self._lock:
            state = self._states.get((wearer, name))
            return state.stands_on if state else ()

    def supposed_units(self, wearer: str, name: str) -> tuple[str, ...]:
        """In which units the last reading whose unit was mistaken would be plausible."""
        with self._lock:
            state = self._states.get((wearer, name))
            return state.supposed if state else ()

    def tell(self, source: str, name: str, why: str, received: Stamp) -> None:
        """Note something that came in and cannot be used.

        Args:
            source: Wearer, or where it came from.
            name: As sent; empty for a whole message.
            why: In words for people.
            received: When.
        """
        with self._lock:
            self._tell(source, name, why, received)

    def _tell(self, source: str, name: str, why: str, received: Stamp) -> None:
        key = (source[:80], name[:120], why[:300])
        before = self._untaken.pop(key, None)
        count = before.count + 1 if before else 1
        self._untaken[key] = Untaken(*key, count, received.run_time)
        while len(self._untaken) > MOST_TOLD:
            self._untaken.popitem(last=False)

    def untaken(self) -> tuple[Untaken, ...]:
        """What came in and became no reading, the latest last."""
        with self._lock:
            return tuple(self._untaken.values())
