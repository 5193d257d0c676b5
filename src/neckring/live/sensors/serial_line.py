"""Readings from a serial port, one line each: a SenML pack, or `name value unit`.

What stands before the first end of a line is passed over: the port was opened in the middle of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from neckring.live.sensors.intake import Intake
from neckring.live.sensors.record import MessageError
from neckring.live.sensors.source import Clock, Deliver, Source
from neckring.live.sensors.text_line import LONGEST_LINE, parse_line

if TYPE_CHECKING:
    import serial  # type: ignore[import-untyped, unused-ignore]

USUAL_RATE = 115_200
READ_WITHIN = 0.2
TRY_AGAIN = 1.0
"""[s]"""


class LineCutter:
    """Cuts a stream of bytes into lines; passes over the first piece, which is mostly torn."""

    def __init__(self) -> None:
        """Begin in the middle of a line."""
        self._rest = b""
        self._is_torn = True
        self.too_long = 0

    def cut(self, chunk: bytes) -> list[bytes]:
        """The lines that end with a chunk, without their ends and without empty ones."""
        *whole, self._rest = (self._rest + chunk).replace(b"\r", b"\n").split(b"\n")
        if whole and self._is_torn:
            whole, self._is_torn = whole[1:], False
        if len(self._rest) > LONGEST_LINE:
            self._rest, self._is_torn = b"", True
            self.too_long += 1
        return [line for line in whole if line.strip()]


class SerialSource(Source):
    """Listens to one port, and opens it again when it was unplugged."""

    def __init__(
        self,
        port: str,
        wearer: str,
        intake: Intake,
        deliver: Deliver,
        clock: Clock,
        rate: int = USUAL_RATE,
    ) -> None:
        """Be ready.

        Args:
            port: As in /dev/ttyUSB0 or COM3.
            wearer: A or B, or the code of a suit: whose sensors hang on it.
            intake: Where records are placed.
            deliver: Gets the readings.
            clock: Stamps of now.
            rate: Baud.
        """
        super().__init__(f"serial port {port}", intake, deliver, clock)
        self._port = port
        self._wearer = wearer
        self._rate = rate

    def run(self) -> None:
        """Open, read, and open again."""
        import serial

        while not self.ending.is_set():
            try:
                with serial.Serial(self._port, self._rate, timeout=READ_WITHIN) as port:
                    self.connected()
                    self._read(port)
            except (OSError, ValueError) as lost:
                self.disconnected(str(lost))
                self.ending.wait(TRY_AGAIN)

    def _read(self, port: serial.Serial) -> None:
        cutter = LineCutter()
        while not self.ending.is_set():
            told = cutter.too_long
            for line in cutter.cut(port.read(max(1, min(port.in_waiting, 4096)))):
                self.hear(line)
            if cutter.too_long > told:
                why = f"more than {LONGEST_LINE} bytes without an end of a line"
                self.intake.tell(self._wearer, "", why, self.clock())

    def hear(self, line: bytes) -> None:
        """Take in one line."""
        if line.lstrip()[:1] == b"[":
            self.take_pack(self._wearer, line)
            return
        try:
            record = parse_line(line.decode("utf-8", "replace"))
        except MessageError as refused:
            self.intake.tell(self._wearer, "", str(refused), self.clock())
            return
        self.take_records(self._wearer, [record])
