"""Heart rate from a strap that speaks the open Bluetooth heart rate service.

A first byte of flags says what follows: the rate in one byte or two, whether the strap touches the
skin, energy, and the times between beats in 1/1024 s, the earliest first. All little-endian.

Source: Bluetooth SIG, Heart Rate Service 1.0 (2011), section 3.1; GATT Specification Supplement,
Heart Rate Measurement (0x2A37): fields and flags.
"""

from __future__ import annotations

import asyncio
import struct
from dataclasses import dataclass

from neckring.live.sensors.intake import Intake
from neckring.live.sensors.record import MessageError, Record
from neckring.live.sensors.source import Clock, Deliver, Source, SourceError

MEASUREMENT = "00002a37-0000-1000-8000-00805f9b34fb"
HEART_RATE = "heart_rate"
TRY_AGAIN = 2.0
"""[s]"""

_TWO_BYTES, _TOUCHES, _TELLS_TOUCH, _ENERGY, _INTERVALS = 0x01, 0x02, 0x04, 0x08, 0x10
_INTERVALS_IN_SECOND = 1024.0
_JOULES = 1000.0


@dataclass(frozen=True)
class HeartRateMeasurement:
    """What a strap told.

    Attributes:
        beats_per_minute: The rate.
        touches: Whether it touches the skin; None when it cannot tell.
        energy: Since it was set to nothing [J]; None when it does not tell.
        intervals: Between beats, the earliest first [s].
    """

    beats_per_minute: int
    touches: bool | None
    energy: float | None
    intervals: tuple[float, ...]


def parse_measurement(message: bytes) -> HeartRateMeasurement:
    """Read the value of the characteristic.

    Raises:
        MessageError: It is cut short, or longer than its flags say.
    """
    if len(message) < 2:
        raise MessageError(f"{len(message)} bytes; a heart rate measurement has at least 2")
    flags, rest = message[0], message[1:]
    (rate,), rest = _taken("<H" if flags & _TWO_BYTES else "<B", rest)
    energy = None
    if flags & _ENERGY:
        (kilojoules,), rest = _taken("<H", rest)
        energy = kilojoules * _JOULES
    intervals: tuple[int, ...] = ()
    if flags & _INTERVALS:
        intervals, rest = _taken(f"<{len(rest) // 2}H", rest)
    if rest:
        raise MessageError(f"{len(rest)} bytes more than the flags 0x{flags:02X} say")
    touches = bool(flags & _TOUCHES) if flags & _TELLS_TOUCH else None
    seconds = tuple(each / _INTERVALS_IN_SECOND for each in intervals)
    return HeartRateMeasurement(rate, touches, energy, seconds)


def _taken(form: str, message: bytes) -> tuple[tuple[int, ...], bytes]:
    size = struct.calcsize(form)
    if len(message) < size:
        raise MessageError(f"cut short: {size - len(message)} bytes are missing")
    return struct.unpack(form, message[:size]), message[size:]


class StrapSource(Source):
    """Listens to one strap, and connects again when it was out of reach."""

    def __init__(
        self, address: str, wearer: str, intake: Intake, deliver: Deliver, clock: Clock
    ) -> None:
        """Be ready.

        Args:
            address: Of the strap, as the machine's Bluetooth shows it.
            wearer: Who wears it, A or B.
            intake: Where records are placed.
            deliver: Gets the readings.
            clock: Stamps of now.

        Raises:
            SourceError: The wearer's suit has no channel, or several, for a heart rate; or the
                extra for Bluetooth is not installed.
        """
        super().__init__(f"heart rate strap {address}", intake, deliver, clock)
        self._address = address
        self._wearer = wearer
        self._name = only_heart_rate(intake, wearer)

    def start(self) -> None:
        """Begin, when the extra for Bluetooth is there.

        Raises:
            SourceError: It is not.
        """
        try:
            import bleak.exc  # type: ignore[import-not-found, unused-ignore] # noqa: F401
        except ImportError:
            raise SourceError(
                'a strap needs the extra "bluetooth": pip install "neckring[bluetooth]"'
            ) from None
        super().start()

    def run(self) -> None:
        """Connect, listen, and connect again."""
        from bleak.exc import BleakError  # type: ignore[import-not-found, unused-ignore]

        while not self.ending.is_set():
            try:
                asyncio.run(self._listen())
            except (BleakError, OSError, TimeoutError) as lost:
                self.disconnected(str(lost) or "the strap does not answer")
            self.ending.wait(TRY_AGAIN)

    async def _listen(self) -> None:
        from bleak import BleakClient  # type: ignore[import-not-found, unused-ignore]

        async with BleakClient(self._address) as client:
            await client.start_notify(MEASUREMENT, self._on_notify)
            self.connected()
            while client.is_connected and not self.ending.is_set():
                await asyncio.sleep(0.2)
        self.disconnected("the strap is out of reach")

    def _on_notify(self, _sender: object, message: bytearray) -> None:
        self.hear(bytes(message))

    def hear(self, message: bytes) -> None:
        """Take in one value of the characteristic; without touch it measures nothing."""
        try:
            told = parse_measurement(message)
        except MessageError as refused:
            self._tell(str(refused))
            return
        if told.touches is False:
            self._tell("the strap does not touch the skin")
            return
        record = Record(self._name, float(told.beats_per_minute), "/min")
        self.take_records(self._wearer, [record])

    def _tell(self, why: str) -> None:
        self.intake.tell(self._wearer, self._name, why, self.clock())


def only_heart_rate(intake: Intake, wearer: str) -> str:
    """By what the one channel for a wearer's heart rate is known.

    Raises:
        SourceError: There is none, or more than one.
    """
    letter = intake.wearer_of(wearer)
    found = intake.wired[letter].measuring(HEART_RATE) if letter else ()
    if len(found) != 1:
        many = "several sensors that measure" if found else "no sensor that measures"
        raise SourceError(f"the suit of {wearer} has {many} heart_rate; a strap needs one")
    return found[0].known_as
