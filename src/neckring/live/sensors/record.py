"""One value as it came, before anybody knows what it stands for: frozen records, data only."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Record:
    """One named value.

    Attributes:
        name: As sent, whole: a SenML name, the first word of a line, an MQTT topic.
        value: As sent, in `unit`.
        unit: As sent: a name of the SenML registry or a UCUM code; None when none was sent.
        time: When it was measured, seconds since 1970; None when nobody said.
        relative: Whether that was told as so long ago, and not by the sensor's own clock.
        is_actual: Whether a gas flow is already as it is where it flows, whatever the suit's file
            says of its sensor: so in a file that was written by neckring.
    """

    name: str
    value: float
    unit: str | None = None
    time: float | None = None
    relative: bool = False
    is_actual: bool = False


class MessageError(ValueError):
    """A message that cannot be taken in; says where in it and why, in words for people."""
