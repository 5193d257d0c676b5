"""Readings from an MQTT broker.

On `neckring/WHO/...` WHO is the wearer's letter or the suit's code; a sensor with a topic of its
own in the suit's file is heard on that. A message is a SenML pack, or a bare value with its unit
or without, named by its topic.

Two things that a broker keeps for late comers would pass for fresh readings: the queue of a
session, so that every session is a clean one; and retained messages, which are told and not taken,
since nobody knows how old they are.

Source: OASIS, MQTT version 3.1.1 (2014), sections 3.1.2.4 (clean session), 3.3.1.3 (retain), 4.3.2
(QoS 1: at least once).
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

from neckring.live.sensors.channels import topic_pattern
from neckring.live.sensors.intake import Intake
from neckring.live.sensors.record import MessageError
from neckring.live.sensors.source import Clock, Deliver, Source, SourceError
from neckring.live.sensors.text_line import parse_value

if TYPE_CHECKING:
    import paho.mqtt.client as paho

ROOT = "neckring"
KEEP_ALIVE = 5
"""[s]; a link that is half open is given up after about twice this."""

LONGEST_VALUE = 200
"""Bytes of a bare value with its unit; what is longer is none."""

QUALITY = 1
FIRST_WAIT, LONGEST_WAIT = 1, 5
"""[s] between two attempts to connect."""


@dataclass(frozen=True)
class Broker:
    """Where a broker is.

    Attributes:
        host: Name or address.
        port: TCP port.
        user: May be empty.
        password: May be empty.
        secure: Over TLS.
    """

    host: str
    port: int
    user: str = ""
    password: str = ""
    secure: bool = False


def read_url(url: str) -> Broker:
    """Read where a broker is: mqtt://[USER:PASSWORD@]HOST[:PORT], or mqtts:// over TLS.

    Raises:
        SourceError: It says something else.
    """
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError as wrong:
        raise SourceError(f'"{url}" is no address: {wrong}') from None
    if parts.scheme not in ("mqtt", "mqtts") or not parts.hostname or parts.path not in ("", "/"):
        raise SourceError(f'read "{url}"; accepted: mqtt://HOST:PORT, as in mqtt://127.0.0.1:1883')
    secure = parts.scheme == "mqtts"
    usual = 8883 if secure else 1883
    user, password = unquote(parts.username or ""), unquote(parts.password or "")
    return Broker(parts.hostname, port or usual, user, password, secure)


class MqttSource(Source):
    """Listens to one broker, and connects again whenever the link was lost."""

    def __init__(
        self,
        url: str,
        intake: Intake,
        deliver: Deliver,
        clock: Clock,
        keep_alive: int = KEEP_ALIVE,
    ) -> None:
        """Be ready.

        Args:
            url: As `read_url` reads it.
            intake: Where records are placed.
            deliver: Gets the readings.
            clock: Stamps of now.
            keep_alive: Between two signs of life on a quiet link [s].

        Raises:
            SourceError: The address is none.
        """
        self.broker = read_url(url)
        words = f"MQTT broker at {self.broker.host}:{self.broker.port}"
        super().__init__(words, intake, deliver, clock)
        self._keep_alive = keep_alive
        self._own_topics = tuple(
            (wearer, channel.known_as, topic_pattern(channel.known_as))
            for wearer, wired in intake.wired.items()
            for channel in wired.channels
            if channel.is_topic
        )

    @property
    def topics(self) -> tuple[str, ...]:
        """What is listened to."""
        return (f"{ROOT}/#", *dict.fromkeys(known_as for _, known_as, _ in self._own_topics))

    def run(self) -> None:
        """Keep one client connected until the end."""
        client = self._client()
        client.connect_async(self.broker.host, self.broker.port, self._keep_alive)
        client.loop_start()
        self.ending.wait()
        client.disconnect()
        client.loop_stop()

    def _client(self) -> paho.Client:
        import paho.mqtt.client as paho
        from paho.mqtt.enums import CallbackAPIVersion

        name = f"{ROOT}-listens-{os.urandom(4).hex()}"
        client = paho.Client(CallbackAPIVersion.VERSION2, name, clean_session=True)
        client.reconnect_delay_set(FIRST_WAIT, LONGEST_WAIT)
        client.connect_timeout = float(LONGEST_WAIT)
        if self.broker.user:
            client.username_pw_set(self.broker.user, self.broker.password)
        if self.broker.secure:
            client.tls_set()
        client.on_connect = self._on_connect
        client.on_connect_fail = self._on_connect_fail
        client.on_disconnect = self._on_disconnect
        client.on_message = self._on_message
        return client

    def _on_connect(
        self,
        client: paho.Client,
        _data: Any,  # noqa: ANN401 - paho's
        _flags: paho.ConnectFlags,
        reason: Any,  # noqa: ANN401 - paho's
        _properties: Any,  # noqa: ANN401 - paho's
    ) -> None:
        if reason.is_failure:
            self.disconnected(f"the broker refuses: {str(reason).lower()}")
            return
        client.subscribe([(topic, QUALITY) for topic in self.topics])
        self.connected()

    def _on_connect_fail(self, _client: paho.Client, _data: Any) -> None:  # noqa: ANN401
        self.disconnected("no broker answers there")

    def _on_disconnect(self, _client: paho.Client, _data: Any, *details: Any) -> None:  # noqa: ANN401
        reason = details[1] if len(details) > 1 else "unknown"
        told = "" if self.ending.is_set() else f"the link was lost: {str(reason).lower()}"
        self.disconnected(told)

    def _on_message(self, _client: paho.Client, _data: Any, message: paho.MQTTMessage) -> None:  # noqa: ANN401
        try:
            topic = message.topic
        except UnicodeDecodeError:
            self.intake.tell("MQTT", "", "a topic that is not UTF-8", self.clock())
            return
        self.hear(topic, bytes(message.payload), message.retain)

    def hear(self, topic: str, payload: bytes, retained: bool = False) -> None:
        """Take in one message.

        Args:
            topic: On which it came.
            payload: Its bytes.
            retained: Whether the broker had kept it.
        """
        owners = [wearer for wearer, _, pattern in self._own_topics if pattern.fullmatch(topic)]
        levels = topic.split("/")
        who = owners[0] if owners else levels[1] if levels[0] == ROOT and len(levels) > 1 else topic
        if retained:
            why = "a retained message: nobody knows how old it is"
            self.intake.tell(who, topic, why, self.clock())
        elif payload.lstrip()[:1] == b"[":
            if owners:
                self.take_renamed(who, payload, topic)
            else:
                self.take_pack(who, payload)
        else:
            self._hear_value(who, topic, payload)

    def _hear_value(self, who: str, topic: str, payload: bytes) -> None:
        if len(payload) > LONGEST_VALUE:
            why = f"neither a pack nor a value: {len(payload)} bytes"
            self.intake.tell(who, topic, why, self.clock())
            return
        try:
            record = parse_value(topic, payload.decode("utf-8", "replace"))
        except MessageError as refused:
            self.intake.tell(who, topic, str(refused), self.clock())
            return
        self.take_records(who, [record])
