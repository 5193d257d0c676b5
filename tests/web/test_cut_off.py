"""A tablet whose network is cut for five minutes: what it shows, and what comes of its taps.

Under NECKRING_SOAK=1 five real minutes pass. Else the tablet waits for ten seconds, while by the
desk's clock five minutes pass; all else is the same.
"""

from __future__ import annotations

import os
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from chromium import BROWSER, NO_BROWSER, chromium
from cut_line import CutLine
from demo_console import PEOPLE, DemoConsole, busy, raise_alarm
from served import Served

from neckring.live.entries import Kind, Role

pytestmark = pytest.mark.skipif(not BROWSER.exists(), reason=NO_BROWSER)
SOAK = os.environ.get("NECKRING_SOAK") == "1"
CUT = 300.0
"""So long the network is gone, by the desk's clock [s]."""
LASTS = CUT if SOAK else 10.0
"""So long the tablet waits [s]."""
ALARM = "air-lost/A/"
STALE = "[data-channel='A.heart'].flawed [data-received]:has-text('stale')"


@contextmanager
def time_passing(console: DemoConsole, times: float) -> Iterator[None]:
    """The desk's clocks go on, so many times as fast as the tablet's."""
    ended = threading.Event()

    def tick() -> None:
        while not ended.wait(0.25):
            console.day.hands.pass_time(0.25 * times)

    thread = threading.Thread(target=tick)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()


@pytest.fixture
def served() -> Iterator[Served]:
    found = Served(busy())
    yield found
    found.stop()


@pytest.fixture
def line(served: Served) -> Iterator[CutLine]:
    made = CutLine(served.port)
    yield made
    made.end()


def leads_tablet(browser: Any, served: Served, line: CutLine) -> Any:
    page = browser.new_context(viewport={"width": 820, "height": 1180}).new_page()
    told = {"pin": served.console.admission.pins[Role.LEAD], "person": PEOPLE[Role.LEAD]}
    assert page.context.request.post(f"{line.address}/api/v1/pair", data=told).status == 201
    page.goto(f"{line.address}/lead")
    page.wait_for_selector("text=Link good")
    return page


def heard_alarm(page: Any) -> None:
    page.click(f".alarm:has(input[value='{ALARM}']) button")


def test_five_minutes_without_a_network_lose_nothing_and_make_nothing_up(
    served: Served, line: CutLine
) -> None:
    console = served.console
    raise_alarm(console, ALARM, 3, "air-lost", "A", "The air flow is lost")
    with chromium() as browser:
        # Given a tablet that shows an alarm, and good readings
        page = leads_tablet(browser, served, line)
        page.wait_for_selector(f".alarm:has(input[value='{ALARM}'])")
        # When its network is cut, and somebody acts on it
        line.cut()
        page.context.set_offline(True)
        taps = 0
        for words in ("the first note", "the second note"):
            page.fill("#field-note", words)
            page.click("#press-note")
            taps += 1
        heard_alarm(page)
        page.click("#press-stop")
        taps += 2
        page.wait_for_selector(f"text={taps} taps not yet recorded")
        with time_passing(console, CUT / LASTS):
            # Then it says that the link is gone and since when, and that what it shows is old
            page.wait_for_selector("text=Link lost for")
            page.wait_for_selector(STALE)
            first = page.inner_text("[data-link]")
            # When the radio is back half way, and yet nothing comes through
            page.wait_for_timeout(500 * LASTS)
            page.context.set_offline(False)
            page.wait_for_timeout(500 * LASTS)
            assert page.inner_text("[data-link]") != first, "it counts"
            assert "Link lost" in page.inner_text("[data-link]")
            page.wait_for_selector(f"text={taps} taps not yet recorded")
            assert not console.day.state.stops
            assert page.locator("button.sent").count() >= 1
        # Then, once it is back, everything is answered, and the page is as the desk has it
        line.mend()
        page.wait_for_selector("text=every tap recorded", timeout=60_000)
        page.wait_for_selector("text=Link good", timeout=60_000)
        page.wait_for_selector("text=STOP for A and B", timeout=60_000)
        page.wait_for_selector("text=It was tapped", timeout=60_000)
        page.context.close()
    book = [entry for entry in console.day.book.written if entry.deed.tapped_at is not None]
    cut = [entry for entry in book if entry.deed.device.startswith("tablet-") and entry.deed.offset]
    # each was recorded once, in the order in which it was tapped;
    assert Counter(Counter(e.deed.key for e in book).values()) == {1: len(book)}
    assert [e.deed.kind for e in cut[-4:]] == [Kind.NOTE, Kind.NOTE, Kind.REFUSED, Kind.STOP]
    # the stop of five minutes ago counts, and says how late it is;
    assert console.day.state.stopped == {"A", "B"}
    late = console.day.state.stops[0].late
    assert late is not None
    assert CUT - 30.0 <= late <= 2.0 * CUT
    # the acknowledgement of five minutes ago does not: the alarm goes on asking to be heard.
    refused = cut[-2].deed
    assert refused.body["kind"] == Kind.ALARM_ACKNOWLEDGED.value
    assert not console.day.state.alarms[ALARM].acknowledged_by
