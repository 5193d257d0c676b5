"""The parts of each page as the run stands: for the first answer and for the stream."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from neckring.live.alarm_list_people import STOP_CALLED
from neckring.live.deciding import WHO
from neckring.live.entries import Entry, Kind, Role
from neckring.live.estimated import Estimated
from neckring.live.run_records import AlarmNow, RunState
from neckring.records.presentation import presentation_of
from neckring.web.admission import Admission
from neckring.web.console_parts import ConsoleParts, Trainer
from neckring.web.entry_views import is_shown
from neckring.web.page_templates import render
from neckring.web.page_views import (
    TENDER,
    LaneView,
    lane_views,
    procedure_next,
    procedure_now,
    wearer_views,
)
from neckring.web.pairing import Session
from neckring.web.reading_views import stale_after

LOG_SHOWN = 25
TRENDS = (
    "heart_rate",
    "core_temperature",
    "mean_skin_temperature",
    "inspired_co2",
    "helmet_co2",
    "water_inlet_temperature",
)
ON_THE_WALL = frozenset({"heart_rate", "inspired_co2", "helmet_co2"})
VITAL = ON_THE_WALL | {"core_temperature"}

PARTS_OF: Mapping[str, tuple[str, ...]] = {
    "lead": (
        "standing",
        "alarms",
        "wearers",
        "open_cards",
        "lanes",
        "calls",
        "cards",
        "readings",
        "run",
        "people",
        "log",
    ),
    "tender": ("standing", "alarms", "open_cards", "lane", "calls", "cards"),
    "medic": (
        "standing",
        "alarms",
        "open_cards",
        "wearers",
        "readings",
        "calls",
        "release",
        "cards",
    ),
    "trainer": ("standing", "alarms", "faults", "scores", "lanes", "log"),
    "wall": ("standing", "alarms", "wall"),
    "replay": ("standing", "alarms", "lanes", "wearers", "readings", "log"),
}
"""View to its parts; each is a template of the same name, but for `lane`."""

TEMPLATE_OF = {"lane": "step"}


@dataclass(frozen=True)
class ChannelView:
    """One channel of a wearer's readings.

    Attributes:
        key: Wearer and channel: "A.heart".
        name: Of the channel.
        label: What it measures.
        shown: The last value with its unit.
        received: On the desk's monotonic clock [s]; empty when nothing ever came.
        age: In words, for a page without its script.
        flaws: In words.
        every: Usual pause between two readings [s].
        stale_after: Without a reading for so long it is stale [s].
        wall: Whether it is worth a line on the wall.
        vital: Whether it stands beside the wearer's clocks.
        trend: Whether it is worth a chart.
        unit: In which it is shown.
    """

    key: str
    name: str
    label: str
    shown: str
    received: str
    age: str
    flaws: str
    every: float
    stale_after: float
    wall: bool
    vital: bool = False
    trend: bool = False
    unit: str = ""


@dataclass(frozen=True)
class Showing:
    """What is shown, to whom.

    Attributes:
        view: A key of `PARTS_OF`.
        session: Of the device; None for a replay.
        lane: Of a tender's page: A, B or tender.
    """

    view: str
    session: Session | None
    lane: str = TENDER

    @property
    def role(self) -> Role:
        """In which part; a replay is looked at as by the trainer, with all faults."""
        return self.session.role if self.session else Role.TRAINER

    @property
    def looks(self) -> object:
        """Alike for devices whose pages look the same: those of one person, but for the lead's.

        The lead's page says of the devices in its list which one it is itself.
        """
        session = self.session
        person = session.person if session else ""
        device = session.device if session and self.view == "lead" else ""
        return self.view, self.lane, self.role, person, device


class PartsOfPages:
    """Renders parts, and remembers them while nothing changes."""

    def __init__(self, console: ConsoleParts, admission: Admission) -> None:
        self._console = console
        self._admission = admission
        self._remembered: dict[object, tuple[object, dict[str, str]]] = {}

    def now(self, showing: Showing) -> dict[str, str]:
        """Every part as it stands, by name; countdowns as at the last entry, no readings."""
        state = self._console.desk.state
        version = self._version(state)
        known = self._remembered.get(showing.looks)
        if known is not None and known[0] == version:
            return known[1]
        context = self.context(showing, state, state.run_time, with_readings=False)
        rendered = {name: part(name, context) for name in PARTS_OF[showing.view]}
        if len(self._remembered) > 200:
            self._remembered.clear()
        self._remembered[showing.looks] = version, rendered
        return rendered

    def _version(self, state: RunState) -> object:
        admission = self._admission
        return (
            state.number,
            tuple(each.run_time for each in self._console.estimates().values()),
            admission.opening.opened,
            tuple(session.device for session in admission.sessions),
            len(admission.seen),
            tuple(admission.pins.values()),
            tuple(admission.sensor_digests),
            self._console.troubles(),
            tuple(self._console.trainer.scores()) if self._console.trainer else (),
        )

    def context(
        self, showing: Showing, state: RunState, run_time: float, with_readings: bool = True
    ) -> dict[str, object]:
        """Everything a live page's templates ask for."""
        console, admission = self._console, self._admission
        found = context_of(
            console,
            state,
            run_time,
            console.estimates(),
            list(channel_views(console, with_readings)),
            last_entries(console, state, showing.role),
        )
        if showing.view == "tender":
            mine = [lane for lane in lane_views(state, console.sheet) if lane.lane == showing.lane]
            found["lane"] = mine[0] if mine else LaneView(showing.lane, showing.lane, None)
        return (
            found
            | rights_of(showing)
            | {
                "opened": admission.opening.opened,
                "pins": admission.pins if showing.role is Role.LEAD else {},
                "devices": sorted(admission.sessions, key=lambda s: (s.role, s.person, s.device)),
                "sources": sorted(admission.sensor_digests),
                "taken_out": admission.taken_out,
                "seen": frozenset(admission.seen),
            }
        )


def part(name: str, context: Mapping[str, object]) -> str:
    """One part of a page."""
    return render(f"parts/{TEMPLATE_OF.get(name, name)}.html.j2", context)


def context_of(
    console: ConsoleParts,
    state: RunState,
    run_time: float,
    estimates: Mapping[str, Estimated],
    channels: Sequence[ChannelView],
    entries: Sequence[Entry],
) -> dict[str, object]:
    """What every page shows of a run as it stands.

    Args:
        console: The console.
        state: Now, or as it was.
        run_time: Now, or then [s].
        estimates: By wearer.
        channels: Of all wearers.
        entries: The last ones, the last first.
    """
    sheet = console.sheet
    trainer = console.trainer
    return {
        "state": state,
        "sheet": sheet,
        "run_time": run_time,
        "procedure": procedure_now(state, sheet),
        "next_procedure": procedure_next(state, sheet),
        "lanes": lane_views(state, sheet),
        "wearers": wearer_views(state, sheet, estimates, run_time),
        "troubles": console.troubles(),
        "alarms": sorted(state.alarms.values(), key=alarm_order),
        "is_stop": is_stop,
        "channels_of": lambda letter: [c for c in channels if c.key.startswith(f"{letter}.")],
        "entries": entries,
        "scores": trainer.scores() if trainer else (),
        "faults": trainer.faults() if trainer else (),
        "fault_words": lambda code: words_of_fault(trainer, code),
    }


def alarm_order(alarm: AlarmNow) -> tuple[int, bool, float, str]:
    """The gravest first; a stop, which the head of every page says too, after others as grave."""
    return -alarm.rank, is_stop(alarm), alarm.raised, alarm.key


def is_stop(alarm: AlarmNow) -> bool:
    """Whether an alarm says that somebody called a stop."""
    return alarm.cause == STOP_CALLED


def words_of_fault(trainer: Trainer | None, code: str) -> str:
    """A fault in words; its code when it is not known."""
    faults = trainer.faults() if trainer else ()
    return next((fault.words for fault in faults if fault.code == code), code)


def rights_of(showing: Showing) -> dict[str, object]:
    """What somebody may do on a page, and where its forms lead back to."""
    role, writes = showing.role, showing.session is not None and showing.view != "wall"

    def may(kind: Kind) -> bool:
        return writes and role in WHO[kind]

    on_lead, on_tender = showing.view == "lead", showing.view == "tender"
    return {
        "session": showing.session,
        "view": showing.view,
        "back": f"/tender?lane={showing.lane}" if on_tender else f"/{showing.view}",
        "may_lead": on_lead and role is Role.LEAD,
        "may_close_cards": may(Kind.CARD_CLOSED),
        "may_do": may(Kind.STEP_DONE) and showing.view in ("lead", "tender"),
        "may_confirm": may(Kind.STEP_CONFIRMED),
        "may_acknowledge": may(Kind.ALARM_ACKNOWLEDGED),
        "may_release": may(Kind.RELEASED),
        "only_wearer": showing.lane if on_tender and showing.lane in ("A", "B") else "",
        "open_readings": showing.view in ("medic", "replay"),
        "shown_lane": showing.lane,
    }


def channel_views(console: ConsoleParts, with_readings: bool) -> Iterator[ChannelView]:
    """Every channel of every wearer, with its last reading or with none."""
    intake = console.intake
    if intake is None:
        return
    now = console.clock.stamp().monotonic
    latest = intake.latest(now) if with_readings else {}
    for letter, wired in intake.wired.items():
        for channel in wired.channels:
            reading = latest.get(letter, {}).get(channel.name)
            words = presentation_of(channel.quantity)
            yield ChannelView(
                f"{letter}.{channel.name}",
                channel.name,
                words.label,
                words.text(reading.value) if reading else "nothing yet",
                f"{reading.received:.3f}" if reading else "",
                f"{max(0.0, now - reading.received):.0f} s ago" if reading else "",
                ", ".join(sorted(reading.flaws)) if reading else "",
                channel.expected.every,
                stale_after(channel),
                channel.quantity in ON_THE_WALL,
                channel.quantity in VITAL,
                channel.quantity in TRENDS,
                words.axis_label,
            )


def last_entries(console: ConsoleParts, state: RunState, role: Role) -> list[Entry]:
    """The last entries that somebody may see, the last first; estimates are left out."""
    behind = console.book.entries(max(0, state.number - 2 * LOG_SHOWN))
    shown = [e for e in behind if e.deed.kind is not Kind.ESTIMATE and is_shown(e, role, state)]
    return shown[::-1][:LOG_SHOWN]
