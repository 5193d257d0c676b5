"""The demo's day behind the console's pages: a real desk on a book in memory, and its tablets."""

from __future__ import annotations

import json
import math
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from demo_day import LEAD, MEDIC, TENDER, TRAINER, Day, demo
from starlette.applications import Starlette

from neckring.live.entries import Deed, Kind, Role
from neckring.live.estimated import Band, Estimated, LiveSlack, Suspicion
from neckring.live.fault_catalogue import catalogue
from neckring.live.reading import Reading
from neckring.live.sensors.channels import wire
from neckring.live.sensors.intake import Intake
from neckring.outing.cautions import CAUTIONS
from neckring.web.app import make_app
from neckring.web.console_parts import ConsoleParts, Kept, Score, Trainer
from neckring.web.settings import WebSettings

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

PEOPLE = {
    Role.LEAD: LEAD,
    Role.TENDER: TENDER,
    Role.MEDIC: MEDIC,
    Role.TRAINER: TRAINER,
    Role.WALL: "",
}
AIR_PRESSURE = 98_900.0
MINUTE = 60.0


@dataclass
class KeptHere:
    """What a restart must not undo, in memory."""

    kept: Kept = field(default_factory=Kept)

    def load(self) -> Kept:
        return self.kept

    def save(self, kept: Kept) -> None:
        self.kept = kept


@dataclass
class DemoConsole:
    """A console, its day, and ways to act on it."""

    day: Day = field(default_factory=lambda: Day(rehearsal=True).opened())
    settings: WebSettings = field(default_factory=WebSettings)
    keeper: KeptHere = field(default_factory=KeptHere)
    estimates: dict[str, Estimated] = field(default_factory=dict)
    scores: list[Score] = field(default_factory=list)
    kept_readings: list[Reading] = field(default_factory=list)

    def __post_init__(self) -> None:
        sheet, station = self.day.sheet, demo()
        suits = [(w.letter, station.suits[w.run.suit]) for w in sheet.wearers.values()]
        self.intake = Intake(wire(suits), AIR_PRESSURE)
        faults = tuple(catalogue().values())
        self.parts = ConsoleParts(
            desk=self.day.desk,
            book=self.day.book,
            sheet=sheet,
            intake=self.intake,
            estimates=lambda: self.estimates,
            history=self.history,
            keep_readings=self.kept_readings.extend,
            trainer=Trainer(lambda: faults, lambda: self.scores),
            keeper=self.keeper,
            cautions=tuple(CAUTIONS),
        )
        self.app: Starlette = make_app(self.parts, self.settings)

    @property
    def admission(self):
        return self.app.state.admission

    def history(self, wearer: str, channel: str) -> Sequence[tuple[float, float | None]]:
        return [
            (r.run_time, r.value)
            for r in self.kept_readings
            if (r.wearer, r.channel) == (wearer, channel)
        ]

    def client(self, address: str = "127.0.0.1", host: str = "127.0.0.1:8000") -> TestClient:
        return TestClient(
            self.app,
            base_url=f"http://{host}",
            client=(address, 50000),
            follow_redirects=False,
            raise_server_exceptions=False,
        )

    def paired(self, role: Role, address: str = "127.0.0.1") -> Tablet:
        client = self.client(address)
        sent = {"pin": self.admission.pins[role], "person": PEOPLE[role]}
        answer = client.post("/api/v1/pair", json=sent)
        assert answer.status_code == 201, answer.text
        told = answer.json()
        return Tablet(client, told["guard"], told["device"], role)

    def program(self, role: Role) -> dict[str, str]:
        sent = {"pin": self.admission.pins[role], "person": PEOPLE[role], "program": True}
        answer = self.client().post("/api/v1/pair", json=sent)
        return {"authorization": f"Bearer {answer.json()['token']}"}

    def read(self, minutes: float = 10.0) -> None:
        """Readings of all wearers for some minutes, a second after another, with a gap in them."""
        for place in range(int(minutes * 30)):
            self.day.hands.pass_time(2.0)
            if 150 <= place < 180:
                continue
            stamp = self.day.desk.clock.stamp()
            for letter in self.intake.wired:
                pack = json.dumps(list(self.pack(letter, place))).encode()
                self.kept_readings += self.intake.take(letter, pack, stamp)

    def pack(self, letter: str, place: int) -> Iterator[dict[str, object]]:
        for channel in self.intake.wired[letter].channels:
            value = shown_by(channel.quantity, place / 5, letter)
            if value is not None and not channel.is_topic:
                name = channel.known_as.replace("*:", "urn:dev:mac:0024befffe804ff1:")
                yield {"n": name, "v": value}


def shown_by(quantity: str, place: float, letter: str) -> float | None:
    """What a sensor of the demo shows, in the unit in which it sends."""
    other = 0.0 if letter == "A" else 6.0
    shown = {
        "heart_rate": 96 + other + 30 * math.sin(place / 20) ** 2,
        "core_temperature": 37.2 + place / 150,
        "helmet_co2": 0.6,
        "inspired_co2": 0.9,
        "water_inlet_temperature": 14 + place / 40,
        "water_outlet_temperature": 21 + place / 40,
        "water_flow": 1.3,
        "reservoir_temperature": 8.0 + place / 60,
        "battery_voltage": 16.1 - place / 400,
        "helmet_temperature": 24.5,
        "air_flow": 230.0,
        "pump_pressure": 38.0,
    }
    return shown.get(quantity)


@dataclass
class Tablet:
    """A paired device."""

    client: TestClient
    guard: str
    device: str
    role: Role
    taps: int = 0

    def tap(self, kind: Kind, key: str = "", **body: object):
        self.taps += 1
        sent = {
            "key": key or f"{self.device}-{self.taps}",
            "kind": kind.value,
            "body": body,
            "tapped_at": None,
            "offset": None,
        }
        return self.client.post(
            "/api/v1/deeds", json=sent, headers={"x-neckring-guard": self.guard}
        )

    def form(self, path: str, **fields: str):
        return self.client.post(
            path,
            data={"guard": self.guard, **fields},
            headers={"origin": str(self.client.base_url).rstrip("/"), "accept": "text/html"},
        )


def estimated(letter: str, at: float) -> Estimated:
    """An invented estimate."""
    slack = LiveSlack(
        "fans",
        "the fans stop",
        Band(190.0, 260.0, 400.0),
        Band(45.0, 60.0, 95.0),
        Band(110.0, 200.0, 340.0),
        15.0,
        "inspired_co2",
        "fresh air at the face",
    )
    pump = LiveSlack(
        "pump",
        "the pump stops",
        Band(1000.0, 1500.0, math.inf),
        Band(800.0, 900.0, 1000.0),
        Band(120.0, 600.0, math.inf),
        300.0,
        "heart_rate",
        "cooling or being out of the suit",
    )
    return Estimated(
        letter,
        at,
        {"core_temperature": Band(37.5, 37.8, 38.1), "heart_rate": Band(1.9, 2.0, 2.2)},
        (pump, slack),
        Band(at + 900.0, at + 1300.0, at + 1700.0),
        "the pump stops: heart rate reaches the signed stop before the wearer is out of the suit",
        (
            Suspicion(
                "main_kinked",
                "the water hose between pack and garment is kinked",
                0.72,
                ("flow", "pump"),
                "Follow the hose from the pack with your hand and straighten it.",
            ),
        )
        if letter == "B"
        else (),
        ("heart", "flow"),
        {"co2": "stale"} if letter == "B" else {},
        1400.0,
    )


def busy(settings: WebSettings | None = None) -> DemoConsole:
    """The middle of a day: everything that a page can show is there."""
    console = DemoConsole(settings=settings or WebSettings())
    day = console.day
    day.whole("dress").whole("changeover").begin("go")
    day.upto(4)
    console.read()
    day.does(LEAD, Kind.NOTE, words="Both look well", wearer="A")
    day.answer_calls()
    now = day.desk.clock.stamp().run_time
    console.estimates = {letter: estimated(letter, now - 20.0) for letter in ("A", "B")}
    day.does(LEAD, Kind.SPELL_BEGUN, wearer="A", spell=4)
    day.does(LEAD, Kind.SPELL_BEGUN, wearer="B", spell=3)
    raise_alarm(
        console,
        "slack/B/pump",
        3,
        "slack-below-reserve",
        "B",
        "If the pump stops, help comes later than the reserve allows",
    )
    raise_alarm(console, "sensor-stale/B/co2", 1, "sensor-stale", "B", "Nothing comes from co2")
    raise_alarm(
        console, "clock/A/uncooled", 2, "clock-near", "A", "Closed in without cooling: 2 min left"
    )
    day.does(TENDER, Kind.ALARM_ACKNOWLEDGED, alarm="sensor-stale/B/co2")
    return console


def raise_alarm(
    console: DemoConsole, key: str, rank: int, cause: str, wearer: str, words: str
) -> None:
    number = console.day.state.number
    body = {"alarm": key, "rank": rank, "cause": cause, "wearer": wearer, "words": words}
    deed = Deed(f"desk:{key}:{number}", Kind.ALARM_RAISED, "desk", Role.DESK, "desk", body)
    assert console.day.desk.take(deed).status == "recorded"
