"""A console whose database, broker, disk, network or clock fails under it, over HTTP.

Whatever was acknowledged stands once; what could not be recorded says so and is recorded later.
"""

from __future__ import annotations

import json
import time
from pathlib import Path

import paho.mqtt.client as paho
import pytest
from book_worlds import in_memory
from brokers import MOSQUITTO, NO_MOSQUITTO, Mosquitto, eventually
from console_clients import Busy, Suit, Tablet
from console_here import console_here, let_suits_send, wanted
from demo_day import LEAD, Hands, sheet
from paho.mqtt.enums import CallbackAPIVersion
from postgres_server import WHY_SKIPPED, Server
from small_disk import fill, small_disk

from neckring.live import run_clock
from neckring.live.entries import Deed, Entry, Kind, Role
from neckring.live.open_book import open_book, read_book
from neckring.served_run.making_ready import scenarios_of, watch_alarms
from neckring.served_run.wanted import LOG_BOOK

__all__ = ["small_disk"]

CUT = 300.0
"""So long a tablet is without its network [s]."""
HOUR = 3600.0


def entries_of(where: str | Path) -> list[Entry]:
    """All entries of a book, once it has verified."""
    book = read_book(where, sheet().station)
    found = list(book.entries())
    assert book.verify().count == len(found)
    book.close()
    return found


def hold_against(entries: list[Entry], tablets: list[Tablet]) -> None:
    keys = [entry.deed.key for entry in entries]
    for tablet in tablets:
        assert len(tablet.told) == tablet.taps
        assert all(entries[number - 1].deed.key == key for key, number in tablet.told.items())
        own = [key for key in keys if key.startswith(f"{tablet.name}-")]
        assert own == [f"{tablet.name}-{tap}" for tap in range(1, tablet.taps + 1)]


@pytest.mark.skipif(bool(WHY_SKIPPED), reason=WHY_SKIPPED)
def test_a_database_killed_and_restarted_under_a_console(tmp_path: Path) -> None:
    # Given a console whose log book is in a real PostgreSQL, and devices that tap
    with in_memory() as folder:
        server = Server(Path(folder))
        server.start()
        with console_here(wanted(tmp_path / "kept", book=server.url)) as console:
            tablets = [console.tablet(f"p{number}") for number in range(8)]
            busy = Busy(tablets, []).start()
            assert eventually(lambda: all(tablet.told for tablet in tablets))

            # When the server is killed, and started again once somebody was told so
            server.kill()
            assert eventually(lambda: any(tablet.refused for tablet in tablets))
            before = sum(len(tablet.told) for tablet in tablets)
            server.start()
            assert eventually(
                lambda: sum(len(tablet.told) for tablet in tablets) > before + len(tablets)
            )
            busy.stop()

        # Then nobody was told anything false, and the chain verifies
        told = {words for tablet in tablets for words in tablet.refused}
        assert all("nothing was recorded" in words for words in told)
        hold_against(entries_of(server.url), tablets)
        server.kill()


@pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)
def test_a_broker_killed_and_restarted_beside_taps(tmp_path: Path) -> None:
    # Given suits that send over a real broker, and devices that tap
    broker = Mosquitto(tmp_path)
    broker.start()
    with console_here(wanted(tmp_path / "kept", mqtt=broker.url)) as console:
        tablets = [console.tablet(f"m{number}") for number in range(4)]
        busy = Busy(tablets, []).start()
        assert eventually(lambda: heart_of(console.served.intake, broker.port, 80.0))

        # When the broker is killed: taps go on; when it is there again: readings come again
        broker.kill()
        before = sum(len(tablet.told) for tablet in tablets)
        assert eventually(lambda: sum(len(t.told) for t in tablets) > before + len(tablets))
        broker.start()
        assert eventually(lambda: heart_of(console.served.intake, broker.port, 90.0))
        busy.stop()

    # Then no tap was refused, and each stands once
    assert not any(tablet.refused for tablet in tablets)
    hold_against(entries_of(tmp_path / "kept" / LOG_BOOK), tablets)


def heart_of(intake, port: int, beats: float) -> bool:
    """Send both suits' heart rate on a connection of its own; whether both have come in."""
    client = paho.Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", port)
    client.loop_start()
    for wearer in "AB":
        pack = json.dumps([{"n": "heart", "v": beats}])
        client.publish(f"neckring/{wearer}/heart", pack, qos=1).wait_for_publish(5)
    client.disconnect()
    client.loop_stop()
    time.sleep(0.1)
    latest = intake.latest(time.clock_gettime(time.CLOCK_BOOTTIME))
    found = [latest.get(wearer, {}).get("heart") for wearer in "AB"]
    return all(each is not None and abs(each.value * 60.0 - beats) < 0.1 for each in found)


def test_a_full_disk_is_told_and_nothing_is_acknowledged_falsely(small_disk: Path) -> None:
    # Given a console on a small disk, devices that tap and suits that send
    let_suits_send(small_disk / "kept")
    with console_here(wanted(small_disk / "kept")) as console:
        tablets = [console.tablet(f"f{number}") for number in range(4)]
        suits = [Suit(console.port, "A"), Suit(console.port, "B")]
        busy = Busy(tablets, suits).start()
        assert eventually(lambda: all(tablet.told for tablet in tablets))

        # When the disk is full
        filler = fill(small_disk)
        assert eventually(lambda: all(tablet.refused for tablet in tablets))
        standing = console.served.desk.state.number
        troubles = console.served.watch.troubles()

        # Then everybody is told why, on the pages too, and nothing counts
        assert all("full" in words for tablet in tablets for words in tablet.refused)
        assert any("nothing is recorded" in words for words in troubles)
        time.sleep(0.5)
        assert console.served.desk.state.number == standing

        # And it goes on by itself once there is room, with the taps that waited
        filler.unlink()
        assert eventually(lambda: console.served.desk.state.number > standing + len(tablets))
        assert not any("log book" in words for words in console.served.watch.troubles())
        busy.stop()
        sent = suits[0].acknowledged
    hold_against(entries_of(small_disk / "kept" / LOG_BOOK), tablets)
    assert sent


def test_a_tablet_that_comes_back_after_five_minutes(tmp_path: Path) -> None:
    # Given a lead whose tablet has lost its network with taps in its queue: run time is not waited
    # for, the taps are as old as they would be
    with console_here(wanted(tmp_path / "kept")) as console:
        lead, other = console.tablet("lead", Role.LEAD), console.tablet("other")
        assert other.send("o-1", "stop", time.time(), wearer="A")[1]["status"] == "recorded"
        old = time.time() - CUT
        queue = [
            ("q-1", "note", {"words": "before the network went"}),
            ("q-2", "resume", {"reason": "all is well"}),
            ("q-3", "stop", {"wearer": "B"}),
        ]

        # When it comes back and sends them, twice since an answer was lost
        once = [lead.send(key, kind, old, **body)[1] for key, kind, body in queue]
        again = [lead.send(key, kind, old, **body)[1] for key, kind, body in queue]

        # Then a late stop counts, what would let the run go on does not, and each stands once
        assert [told["status"] for told in once] == ["recorded", "refused", "recorded"]
        assert "min ago" in once[1]["why"]
        assert [told["status"] for told in again] == ["known"] * 3
        assert [told["number"] for told in again] == [told["number"] for told in once]
        assert {"A", "B"} <= set(console.served.desk.state.stopped)
    keys = [entry.deed.key for entry in entries_of(tmp_path / "kept" / LOG_BOOK)]
    assert [key for key in keys if key.startswith("q-")] == ["q-1", "q-2", "q-3"]


def test_a_laptop_whose_clock_is_set_back_an_hour(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Given a run in which an hour has passed
    hands = Hands(wall=1.8e9)
    monkeypatch.setattr(run_clock, "machine_sources", lambda: hands.sources)
    with console_here(wanted(tmp_path / "kept")) as console:
        desk, watch = console.served.desk, console.served.watch
        watch_alarms(console.served, scenarios_of(console.served, members=0))
        watch.look()
        hands.pass_time(HOUR)
        watch.look()
        before = desk.clock.run_time()

        # When somebody sets the clock back by that hour
        hands.wall -= HOUR
        hands.pass_time(1.0)
        watch.look()

        # Then run time goes on, and everybody is told
        assert desk.clock.run_time() == pytest.approx(before + 1.0)
        assert "clock-set" in [alarm.cause for alarm in desk.state.alarms.values()]
        assert desk.take(note("n-1")).status == "recorded"
    hands.pass_time(2.0)

    # And a console that comes back has neither lost nor gained time
    with console_here(wanted(tmp_path / "kept")) as console:
        assert console.served.desk.clock.run_time() == pytest.approx(before + 3.0)
        times = [entry.stamp.run_time for entry in entries_of(tmp_path / "kept" / LOG_BOOK)]
        assert times == sorted(times)


def note(key: str) -> Deed:
    return Deed(key, Kind.NOTE, LEAD, Role.LEAD, "tablet", {"words": "seen"}, None, None)


def test_a_book_that_another_console_has_open_is_refused(tmp_path: Path) -> None:
    # Given a console, when a second one is started on the same folder, then it says so
    with (
        console_here(wanted(tmp_path / "kept")),
        pytest.raises(SystemExit) as ended,
        console_here(wanted(tmp_path / "kept")),
    ):
        raise AssertionError("two consoles write one book")
    assert ended.value.code == 2
    open_book(tmp_path / "kept" / LOG_BOOK, sheet().station).close()
