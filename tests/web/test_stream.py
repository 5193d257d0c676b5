"""The stream: every entry to every page that may see it, the latest of all else."""

from __future__ import annotations

import asyncio
import json
import threading
import time
from collections.abc import Mapping
from dataclasses import replace

import pytest
from demo_console import DemoConsole, busy
from demo_day import LEAD

from neckring.live.entries import Kind, Role
from neckring.web import stream
from neckring.web.admission import Asking
from neckring.web.page_parts import PartsOfPages, Showing


def asking(console: DemoConsole, role: Role) -> Asking:
    tablet = console.paired(role)
    session = next(s for s in console.admission.sessions if s.device == tablet.device)
    return Asking(session, "token", by_cookie=True)


async def events_of(
    console: DemoConsole, who: Asking, after: int, until: int, render: Mapping[str, str]
) -> list[tuple[str, int | None, dict]]:
    """Events of one page until it has caught up with an entry and got readings."""
    found: list[tuple[str, int | None, dict]] = []
    seen = after
    async for chunk in console.app.state.hub.events(who, after, lambda: render):
        for block in chunk.decode().split("\n\n"):
            fields = dict(line.split(": ", 1) for line in block.splitlines() if ": " in line)
            if "event" not in fields:
                continue
            number = int(fields["id"]) if "id" in fields else None
            seen = number or seen
            found.append((fields["event"], number, json.loads(fields["data"])))
        if seen >= until and found and found[-1][0] == "readings":
            break
    return found


@pytest.fixture(scope="module")
def console() -> DemoConsole:
    return busy()


@pytest.mark.parametrize("after", [0, 17, 150])
def test_a_page_gets_every_entry_from_where_it_was(
    console: DemoConsole, after: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Given a page that is far behind, and little read in one go
    monkeypatch.setattr(stream, "AT_ONCE", 40)
    who = asking(console, Role.MEDIC)
    last = console.day.state.number
    # When it listens
    found = asyncio.run(events_of(console, who, after, last, {}))
    # Then each entry comes, once, in order
    numbers = [number for name, number, _ in found if name == "entry"]
    assert numbers == list(range(after + 1, last + 1))


def test_a_page_is_told_at_once_and_of_the_latest_only(console: DemoConsole) -> None:
    who = asking(console, Role.LEAD)
    start = console.day.state.number

    async def story() -> list[tuple[str, int | None, dict]]:
        page = asyncio.create_task(events_of(console, who, start, start + 50, {"x": "<p>x</p>"}))
        await asyncio.sleep(0.05)
        for place in range(50):
            await asyncio.to_thread(console.day.does, LEAD, Kind.NOTE, words=f"note {place}")
        return await asyncio.wait_for(page, 20)

    found = asyncio.run(story())
    numbers = [number for name, number, _ in found if name == "entry"]
    assert numbers == list(range(start + 1, start + 51))
    parts = [data for name, _, data in found if name == "part"]
    assert parts == [{"name": "x", "markup": "<p>x</p>"}], "what has not changed is not sent again"


def test_a_slow_page_loses_no_entry_and_costs_no_memory(console: DemoConsole) -> None:
    # Given a page that takes one event and then takes none
    who = asking(console, Role.LEAD)
    start = console.day.state.number

    async def story() -> list[int]:
        events = console.app.state.hub.events(who, start, dict)
        await anext(events)
        for place in range(300):
            await asyncio.to_thread(console.day.does, LEAD, Kind.NOTE, words=f"slow {place}")
        taken: list[int] = []
        async for chunk in events:
            taken += [int(line[4:]) for line in chunk.decode().splitlines() if line[:4] == "id: "]
            if len(taken) >= 300:
                break
        await events.aclose()
        return taken

    assert asyncio.run(story()) == list(range(start + 1, start + 301))
    assert not console.app.state.hub._listening


def test_a_fault_of_the_trainer_comes_to_the_trainer_alone(console: DemoConsole) -> None:
    people = {role: asking(console, role) for role in (Role.LEAD, Role.TRAINER)}
    start = console.day.state.number
    trainer = console.paired(Role.TRAINER)
    trainer.tap(Kind.FAULT_BEGUN, key="hidden", wearer="A", fault="pump", share=1.0)
    console.day.does(LEAD, Kind.NOTE, words="behind it")
    last = console.day.state.number
    seen = {
        role: json.dumps(asyncio.run(events_of(console, who, start, last, {})))
        for role, who in people.items()
    }
    assert "fault begun" in seen[Role.TRAINER]
    assert "fault begun" not in seen[Role.LEAD]
    assert "behind it" in seen[Role.LEAD]


def test_alarms_say_how_loud(console: DemoConsole) -> None:
    who = asking(console, Role.WALL)
    found = asyncio.run(events_of(console, who, console.day.state.number, 0, {}))
    alarm = next(data for name, _, data in found if name == "alarm")
    assert alarm["loudest"] == 3
    assert [one["rank"] for one in alarm["alarms"]] == [3, 2, 1]


def test_an_unpaired_devices_stream_ends(console: DemoConsole) -> None:
    who = asking(console, Role.TENDER)

    async def story() -> int:
        count = 0
        async for _ in console.app.state.hub.events(who, console.day.state.number, dict):
            count += 1
            console.admission.sessions.revoke(who.session.device)
        return count

    assert asyncio.run(asyncio.wait_for(story(), 10)) >= 1


def test_a_page_of_another_part_is_not_streamed(console: DemoConsole) -> None:
    client = console.client()
    headers = console.program(Role.TENDER)
    for view in ("lead", "medic", "trainer", "none"):
        answer = client.get(f"/api/v1/stream?view={view}", headers=headers)
        assert answer.status_code == 403


def test_a_burst_is_drawn_a_few_times_only_and_one_page_at_a_time(console: DemoConsole) -> None:
    # Given eight pages, and how they are drawn
    people = [asking(console, Role.TENDER) for _ in range(8)]
    start = console.day.state.number
    drawing, together, drawn = 0, 0, 0
    alone = threading.Lock()

    def draw() -> Mapping[str, str]:
        nonlocal drawing, together, drawn
        with alone:
            drawing, drawn = drawing + 1, drawn + 1
            together = max(together, drawing)
        time.sleep(0.002)
        with alone:
            drawing -= 1
        return {"x": "<p>x</p>"}

    async def listen(who: Asking) -> int:
        seen = start
        async for chunk in console.app.state.hub.events(who, start, draw):
            for line in chunk.decode().splitlines():
                seen = int(line[4:]) if line.startswith("id: ") else seen
            if seen >= start + 40:
                break
        return seen

    async def story() -> list[int]:
        pages = [asyncio.create_task(listen(who)) for who in people]
        await asyncio.sleep(0.05)
        for place in range(40):
            await asyncio.to_thread(console.day.does, LEAD, Kind.NOTE, words=f"burst {place}")
        return await asyncio.wait_for(asyncio.gather(*pages), 20)

    # When 40 entries come at once / then each page has them all
    assert asyncio.run(story()) == [start + 40] * 8
    # and was not drawn for each of them, nor were two drawn at the same time.
    assert together == 1
    assert drawn < 8 * 40 / 2


def test_pages_that_look_alike_are_drawn_once(console: DemoConsole) -> None:
    # Given two tablets of one tender, and two of the lead
    pages = PartsOfPages(console.parts, console.admission)
    tenders = [Showing("tender", asking(console, Role.TENDER).session, "A") for _ in range(2)]
    leads = [Showing("lead", asking(console, Role.LEAD).session) for _ in range(2)]
    # When they are drawn
    first, second = (pages.now(each) for each in tenders)
    mine, other = (pages.now(each)["people"] for each in leads)
    # Then the tender's are one drawing, of which another lane's is none;
    assert first is second
    assert pages.now(replace(tenders[0], lane="B")) is not first
    # and each of the lead's says which device it is itself.
    assert mine != other
    assert mine.count("this one") == other.count("this one") == 1
