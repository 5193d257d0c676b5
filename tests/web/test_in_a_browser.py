"""The pages in a real browser: taps that are never lost, keyboard, axe, sizes and words."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

import pytest
from chromium import AXE, BROWSER, NO_BROWSER, chromium, photographed, violations
from demo_console import PEOPLE, DemoConsole, busy, raise_alarm
from demo_day import LEAD, status
from served import Served

from neckring.live.entries import Deed, Kind, Role
from neckring.live.run_records import Done
from neckring.web.pages import CHARTS

pytestmark = pytest.mark.skipif(not BROWSER.exists(), reason=NO_BROWSER)

SIZES = {"wide": (1280, 800), "tall": (800, 1280)}
WALL = (1920, 1080)
PHONE = (390, 844)
TARGET = 20 * 96 / 25.4
"""20 mm at 96 px to the inch."""
PAGES = [
    (Role.LEAD, "/lead"),
    (Role.LEAD, "/lead/otherwise?step=5"),
    (Role.LEAD, "/replay?at=600"),
    (Role.LEAD, "/alarms"),
    (Role.TENDER, "/tender"),
    (Role.TENDER, "/tender?lane=A"),
    (Role.MEDIC, "/medic"),
    (Role.TRAINER, "/trainer"),
    (Role.WALL, "/wall"),
    (None, "/pair"),
]
SOAK = os.environ.get("NECKRING_SOAK") == "1"
SHOWN = (
    [(*page, size, scheme) for page in PAGES for size in SIZES for scheme in ("light", "dark")]
    if SOAK
    else [
        (Role.LEAD, "/lead", "wide", "dark"),
        (Role.LEAD, "/lead/otherwise?step=5", "tall", "light"),
        (Role.TENDER, "/tender", "tall", "dark"),
    ]
)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as started:
        yield started


@pytest.fixture(scope="module")
def served() -> Iterator[Served]:
    found = Served(busy())
    yield found
    found.stop()


@pytest.fixture
def fresh() -> Iterator[Served]:
    console = DemoConsole()
    console.day.begin("dress")
    found = Served(console)
    yield found
    if found.thread.is_alive():
        found.stop()


def opened(
    browser: Any, served: Served, role: Role | None, path: str, size: tuple[int, int], **more: Any
) -> Any:
    """A page of a device of its own."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, **more)
    page = context.new_page()
    page.said = []
    page.asked = []
    page.on("console", lambda message: page.said.append(message.text))
    page.on("pageerror", lambda error: page.said.append(str(error)))
    page.on("request", lambda request: page.asked.append(request.url))
    if role is not None:
        told = {"pin": served.console.admission.pins[role], "person": PEOPLE[role]}
        assert context.request.post(f"{served.address}/api/v1/pair", data=told).status == 201
    page.goto(f"{served.address}{path}")
    if path.split("?")[0] in ("/lead", "/tender", "/medic", "/trainer", "/wall"):
        page.wait_for_selector("text=Link good")
    return page


def entries(served: Served, kind: Kind) -> list[Any]:
    return [e for e in served.console.day.book.written if e.deed.kind is kind]


@pytest.mark.parametrize(("role", "path", "size", "scheme"), SHOWN)
def test_every_page_as_it_hangs_there(
    browser: Any, served: Served, role: Role | None, path: str, size: str, scheme: str
) -> None:
    # Given a page at a size at which it is used
    width, height = WALL if role is Role.WALL else SIZES[size]
    page = opened(browser, served, role, path, (width, height), color_scheme=scheme)
    page.wait_for_timeout(150)
    title = path.strip("/").replace("/", "-").replace("?", "-").replace("=", "-")
    photographed(page, f"{title}-{size}-{scheme}")
    # Then it never scrolls sideways, is silent, and asks nobody else
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.said == []
    assert [url for url in page.asked if not url.startswith(served.address)] == []
    # And everything to press is large enough for a glove, opened or not
    page.evaluate("() => document.querySelectorAll('details').forEach(e => { e.open = true; })")
    small = page.evaluate(
        """least => [...document.querySelectorAll(
            'button, select, summary, input:not([type=hidden]):not([type=checkbox]), a.press')]
            .filter(e => e.getClientRects().length)
            .map(e => [e.getBoundingClientRect(), e.outerHTML.slice(0, 80)])
            .filter(([box]) => box.height < least || box.width < least)
            .map(([box, text]) => `${box.width} x ${box.height} ${text}`)""",
        TARGET,
    )
    assert small == []
    # And axe finds nothing
    if AXE.exists():
        assert violations(page) == []
    page.context.close()


def test_axe_is_there_to_find_something() -> None:
    if not AXE.exists():
        pytest.skip("axe-core is not fetched, so no page was checked: run scripts/browser_code.py")
    assert AXE.stat().st_size > 100_000


def test_taps_wait_through_a_lost_network_and_come_once_each(browser: Any, fresh: Served) -> None:
    # Given a lead whose tablet has lost the network
    page = opened(browser, fresh, Role.LEAD, "/lead", SIZES["wide"])
    page.context.set_offline(True)
    # When three notes are tapped, and a stop
    for number in (1, 2, 3):
        page.fill("#field-note", f"note {number}")
        page.click("#press-note")
    page.click("#press-stop")
    # Then the page says how many wait, and nothing is recorded yet
    page.wait_for_selector("text=4 taps not yet recorded")
    assert entries(fresh, Kind.NOTE) == []
    # And when the network is back each is recorded once, in order, as it was tapped
    page.context.set_offline(False)
    page.wait_for_selector("text=every tap recorded", timeout=15000)
    page.wait_for_selector("text=Link good", timeout=15000)
    words = [entry.deed.body["words"] for entry in entries(fresh, Kind.NOTE)]
    assert words == ["note 1", "note 2", "note 3"]
    assert len(entries(fresh, Kind.STOP)) == 1
    tapped = [entry.deed.tapped_at for entry in entries(fresh, Kind.NOTE)]
    assert tapped == sorted(tapped)
    assert all(entry.deed.offset is not None for entry in entries(fresh, Kind.NOTE))
    page.context.close()


def test_taps_survive_a_reload_and_a_server_that_is_gone(browser: Any, fresh: Served) -> None:
    # Given a page whose server has gone
    page = opened(browser, fresh, Role.LEAD, "/lead", SIZES["wide"])
    fresh.stop()
    page.fill("#field-note", "while it was gone")
    page.click("#press-note")
    page.wait_for_selector("text=1 tap not yet recorded")
    # When it is back, and the tablet is reloaded with the tap still waiting
    page.evaluate("() => { window.fetch = () => Promise.reject(new Error('still gone')); }")
    fresh.start()
    page.reload()
    # Then the tap is recorded once, though it was sent by another page
    page.wait_for_selector("text=every tap recorded", timeout=15000)
    assert [e.deed.body["words"] for e in entries(fresh, Kind.NOTE)] == ["while it was gone"]
    page.context.close()


def test_a_reply_that_is_lost_records_nothing_twice(browser: Any, fresh: Served) -> None:
    # Given a network that loses the first reply, after the desk has written
    page = opened(browser, fresh, Role.LEAD, "/lead", SIZES["wide"])
    lost = []

    def lose(route: Any) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().status)
        route.abort()

    page.route("**/api/v1/deeds", lose)
    page.click("#press-stop")
    page.wait_for_selector("text=every tap recorded", timeout=15000)
    page.wait_for_selector("text=STOP for A and B")
    assert lost == [200]
    assert len(entries(fresh, Kind.STOP)) == 1
    page.context.close()


def test_a_full_disk_is_said_and_the_tap_waits(browser: Any, fresh: Served) -> None:
    page = opened(browser, fresh, Role.LEAD, "/lead", SIZES["wide"])
    fresh.console.day.book.fails_before = True
    page.click("#press-stop")
    page.wait_for_selector("#told-urgent:has-text('the disk is full')")
    page.wait_for_selector("text=1 tap not yet recorded")
    assert not fresh.console.day.state.stops
    fresh.console.day.book.fails_before = False
    page.wait_for_selector("text=every tap recorded", timeout=15000)
    assert fresh.console.day.state.stopped == {"A", "B"}
    page.context.close()


def test_a_step_from_step_to_step_by_keyboard_alone(browser: Any, fresh: Served) -> None:
    # Given the lead's page and no finger
    page = opened(browser, fresh, Role.LEAD, "/lead", SIZES["wide"])
    reached: list[str] = []

    def go_to(wanted: str) -> None:
        for _ in range(120):
            page.keyboard.press("Tab")
            at = page.evaluate("document.activeElement.id")
            reached.append(at)
            if at == wanted:
                return
        raise AssertionError(f"{wanted} is not reached by Tab: {reached}")

    # When the first two steps are done by Tab and Enter
    for number, lane in ((1, "A"), (2, "B")):
        go_to(f"press-done-{lane}-dress-{number}")
        style = "getComputedStyle(document.activeElement)"
        assert page.evaluate(f"{style}.outlineStyle") == "solid"
        assert page.evaluate(f"parseFloat({style}.outlineWidth)") >= 3
        page.keyboard.press("Enter")
        page.wait_for_selector(f"#press-done-{lane}-dress-{number}", state="detached")
        assert status(fresh.console.day, number) is Done.DONE
    # And a stop, and a resume that is asked twice
    go_to("press-stop")
    page.keyboard.press("Space")
    page.wait_for_selector("text=STOP for A and B")
    assert page.evaluate("document.activeElement.id") == "press-stop", "focus stays where it was"
    page.keyboard.press("Home")
    go_to("press-resume")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "confirm-no"
    assert fresh.console.day.state.stops
    page.keyboard.press("Escape")
    assert page.is_hidden("#confirm")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Going")
    assert not fresh.console.day.state.stops
    page.context.close()


def test_four_pages_follow_one_run(browser: Any, fresh: Served) -> None:
    roles = (Role.LEAD, Role.TENDER, Role.MEDIC, Role.WALL)
    pages = {role: opened(browser, fresh, role, f"/{role.value}", SIZES["wide"]) for role in roles}
    # When the tender stops the run, every page says so, and who
    pages[Role.TENDER].click("#press-stop")
    for page in pages.values():
        page.wait_for_selector("text=STOP for A and B")
    # And the medic's words of a symptom stand at the lead, and only the fact on the wall
    medic = pages[Role.MEDIC]
    medic.click("#symptom-A summary")
    medic.fill("#field-symptom-A", "dizzy <b>since</b> noon")
    medic.click("#press-symptom-A")
    pages[Role.LEAD].wait_for_selector("text=dizzy <b>since</b> noon")
    pages[Role.WALL].wait_for_selector("text=SYMPTOM")
    assert "dizzy" not in pages[Role.WALL].inner_text("body")
    for page in pages.values():
        assert page.said == []
        page.context.close()


def test_a_glove_that_taps_twice_does_not_do_the_next_step(browser: Any, fresh: Served) -> None:
    # Given a finger whose second tap comes in the moment in which the next step stands there
    page = opened(browser, fresh, Role.LEAD, "/lead", SIZES["wide"])
    page.evaluate(
        """() => new MutationObserver(() => document.getElementById('press-done-A-dress-5')
            ?.dispatchEvent(new MouseEvent('click', {bubbles: true, cancelable: true, detail: 1})))
            .observe(document.querySelector('[data-part=lanes]'), {childList: true})"""
    )
    page.click("#press-done-A-dress-1")
    # Then it is not taken, and said; a tap after a look is
    page.wait_for_selector("text=Not taken: the page has just changed")
    assert status(fresh.console.day, 1) is Done.DONE
    assert status(fresh.console.day, 5) is Done.OPEN
    page.wait_for_function("() => SETTLES < seconds() - Math.max(...came.values())")
    page.click("#press-done-A-dress-5")
    page.wait_for_selector("text=Recorded: Step 5 done")
    assert status(fresh.console.day, 5) is Done.DONE
    page.context.close()


def test_a_stop_stands_where_the_prover_is_asked(browser: Any, fresh: Served) -> None:
    page = opened(browser, fresh, Role.LEAD, "/lead/otherwise", SIZES["tall"])
    page.click("#press-stop")
    page.wait_for_selector("text=Recorded: STOP for both")
    assert fresh.console.day.state.stopped == {"A", "B"}
    page.context.close()


def test_both_wearers_next_step_and_stop_are_seen_without_scrolling(
    browser: Any, served: Served
) -> None:
    # Given two alarms that nobody has heard, one that somebody has, and a suspicion
    page = opened(browser, served, Role.LEAD, "/lead", SIZES["wide"])
    assert page.locator(".alarm").count() == 2
    assert page.locator(".heard li").count() == 1
    # Then all of it stands above the bar with the stop
    bar = page.locator(".bottom").bounding_box()["y"]
    facts = ".alarm, .wearer, .vitals, .clocks, .slacks, .binds, .suspicion, .step.next .words"
    for shown in page.locator(f"{facts}, .step.next button.first").all():
        box = shown.bounding_box()
        assert box["y"] + box["height"] <= bar, shown.inner_text()
    assert page.locator(".wearer").count() == 2
    assert page.locator("#press-stop").bounding_box()["y"] > bar
    page.context.close()


def test_what_is_being_typed_stays_when_the_page_changes_under_it(
    browser: Any, fresh: Served
) -> None:
    page = opened(browser, fresh, Role.LEAD, "/lead", SIZES["wide"])
    page.click("#not-A-dress-1 > summary")
    page.fill("#field-failed-A-dress-1", "half a sen")
    page.evaluate("document.getElementById('field-failed-A-dress-1').setSelectionRange(4, 4)")
    page.evaluate("window.seen = document.getElementById('field-failed-A-dress-1')")
    # When another device changes the part in which somebody types
    fresh.console.day.does(LEAD, Kind.HOLD)
    page.wait_for_selector("#press-resume")
    assert page.evaluate("window.seen.isConnected") is False, "the part was swapped"
    assert page.input_value("#field-failed-A-dress-1") == "half a sen"
    assert page.evaluate("document.activeElement.id") == "field-failed-A-dress-1"
    assert page.evaluate("document.activeElement.selectionStart") == 4
    page.context.close()


def test_ages_are_counted_by_the_page_while_the_desk_is_gone(browser: Any) -> None:
    served = Served(busy())
    page = opened(browser, served, Role.MEDIC, "/medic", SIZES["wide"])
    name = served.console.intake.wired["A"].measuring("heart_rate")[0].name
    row = f"tr[data-channel='A.{name}']"
    page.wait_for_selector(f"{row} [data-received]:not([data-received=''])")
    served.stop()
    page.wait_for_selector("text=Link lost for", timeout=10000)
    page.wait_for_selector(f"{row}.flawed [data-received]:has-text('stale')")
    page.context.close()


@pytest.mark.skipif(not CHARTS.exists(), reason="charts are not fetched: scripts/browser_code.py")
def test_a_chart_is_broken_where_nothing_came(browser: Any, served: Served) -> None:
    page = opened(browser, served, Role.MEDIC, "/medic", SIZES["wide"])
    page.wait_for_selector(".chart canvas")
    holes = page.evaluate("[...charts.values()].map(c => c.data[1].filter(v => v === null).length)")
    assert holes
    assert set(holes) == {1}, "one gap of a minute in each"
    page.context.close()


def test_without_the_charting_library_the_page_says_so(browser: Any, served: Served) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.route("**/third_party/**", lambda route: route.abort())
    page.goto(f"{served.address}/pair")
    page.fill("#field-pin", served.console.admission.pins[Role.MEDIC])
    page.select_option("#field-person", PEOPLE[Role.MEDIC])
    page.click("button:text-is('Pair this device')")
    page.wait_for_selector("text=the charting library is not installed")
    page.wait_for_selector("text=Link good")
    context.close()


def test_sound_needs_a_touch_and_says_so(browser: Any, served: Served) -> None:
    page = opened(browser, served, Role.LEAD, "/lead", SIZES["wide"])
    assert page.inner_text("[data-sound]") == "Sound is off: touch"
    page.click("[data-sound]")
    page.wait_for_selector("text=Sound is on")
    assert page.evaluate("rank") == 3, "as loud as the loudest that nobody has heard"
    page.context.close()


def test_the_slider_of_a_replay_moves_the_page(browser: Any, served: Served) -> None:
    page = opened(browser, served, Role.LEAD, "/replay?at=30", SIZES["wide"])
    assert "Dress two wearers" in page.inner_text("main")
    page.focus("#replay-at")
    page.keyboard.press("End")
    page.wait_for_selector("text=Going: Send out")
    assert page.evaluate("document.activeElement.id") == "replay-at"
    page.context.close()


def test_a_wall_is_read_from_four_metres(browser: Any, served: Served) -> None:
    # 20 minutes of arc from 4 m: 4 m * tan(20/60 deg) = 23.3 mm; a screen 0.95 m wide
    page = opened(browser, served, Role.WALL, "/wall", WALL)
    size = page.evaluate("parseFloat(getComputedStyle(document.querySelector('h2')).fontSize)")
    capital = 0.72 * size / WALL[0] * 950
    reach = float(page.inner_text("[data-reach]").split(" m")[0])
    assert reach == 4.0
    assert capital >= 23.3 * 0.98
    assert page.evaluate("document.documentElement.scrollHeight") <= WALL[1] + 4
    page.context.close()


@pytest.mark.parametrize("role", [Role.LEAD, Role.TENDER, Role.MEDIC])
def test_on_a_phone_everything_of_the_bar_is_there_to_press(
    browser: Any, served: Served, role: Role
) -> None:
    page = opened(browser, served, role, f"/{role.value}", PHONE)
    for name in ("#press-stop", "#press-hold", ".bottom .press[href='#cards']", "[data-sound]"):
        box = page.locator(name).bounding_box()
        assert box["width"] >= TARGET, name
        assert box["x"] >= 0, name
        assert box["x"] + box["width"] <= PHONE[0], name
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]
    page.context.close()


def test_a_stop_and_four_alarms_on_a_wall_are_read_from_four_metres(browser: Any) -> None:
    # Given a wall when the air of A is lost, and the tender has called a stop
    served = Served(busy())
    told = (
        ("stop-called//", 3, "stop-called", "", "Stop: T1 for A and B"),
        ("air-lost/A/", 3, "air-lost", "A", "The air flow is lost: 4 % of what it should be"),
        ("limit-core-temperature/A/", 2, "limit-core-temperature", "A",
         "Core temperature 38.02 degC estimated, above the signed 38 degC: turn back"),
        ("database-old//", 1, "database-old", "", "SQLite has a known fault of its log file"),
        ("tablet-lost//x", 1, "tablet-lost", "", "Tablet tablet-6be1ae has not been heard from"),
    )  # fmt: skip
    for key in tuple(served.console.day.desk.state.alarms):
        ended = Deed(f"end:{key}", Kind.ALARM_ENDED, "desk", Role.DESK, "desk", {"alarm": key})
        assert served.console.day.desk.take(ended).status == "recorded"
    served.console.day.does(LEAD, Kind.STOP, reason="", wearer="both")
    for alarm in told:
        raise_alarm(served.console, *alarm)
    page = opened(browser, served, Role.WALL, "/wall", WALL)
    page.wait_for_selector("text=The air flow is lost")
    photographed(page, "wall-four-alarms")
    # Then the head says that all stop, what is lost stands first with what to do, all is there,
    assert "STOP" in page.inner_text(".standing h2")
    shown = [one for one in page.locator(".alarm").all() if one.is_visible()]
    assert "The air flow is lost" in shown[0].inner_text()
    assert "visor or helmet open" in shown[0].inner_text()
    assert len(shown) == 4
    for box in (one.bounding_box() for one in shown):
        assert box["x"] + box["width"] <= WALL[0]
        assert box["y"] + box["height"] <= WALL[1]
    assert page.evaluate("document.documentElement.scrollHeight") <= WALL[1] + 4
    # and it is read from 4 m.
    assert page.inner_text("[data-reach]").startswith("4.0 m")
    page.context.close()


def test_three_alarms_at_once_on_a_wall_whose_link_is_lost(browser: Any) -> None:
    # Given a wall, three alarms that nobody has heard, and one that somebody has
    served = Served(busy())
    words = "Inspired CO2 beyond its sensor's range (25 kPa from co2): treat as high, stop now"
    key = "limit-inspired-co2/A/"
    raise_alarm(served.console, key, 3, "limit-inspired-co2", "A", words)
    served.console.day.does(LEAD, Kind.STOP, reason="", wearer="both")
    page = opened(browser, served, Role.WALL, "/wall", WALL)
    page.wait_for_selector(f"text={words}")
    # When the link is lost
    served.stop()
    page.wait_for_selector("text=Link lost")
    # Then it says so in one line, every alarm is there in whole words, the gravest with what to do,
    assert page.locator(".lost-words").bounding_box()["height"] < 1.5 * page.evaluate(
        "parseFloat(getComputedStyle(document.querySelector('.lost-words')).fontSize)"
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= WALL[0]
    assert page.evaluate(
        "(e => e.scrollWidth <= e.clientWidth)(document.querySelector('.standing h2'))"
    ), "that the run is stopped is not cut off"
    alarms = page.locator(".alarm")
    assert alarms.count() == 3
    assert page.locator(".heard").is_visible()
    assert "fresh air at the face" in alarms.first.inner_text()
    for box in (one.bounding_box() for one in alarms.all()):
        assert box["y"] + box["height"] <= WALL[1]
    # no value is left that looks as though it were of now,
    page.wait_for_selector(".line.flawed:has-text('stale')")
    assert page.locator(".line[data-channel]:not(.flawed)").count() == 0
    # and it is still read from 3.5 m, which it says (20 minutes of arc: 20.4 mm).
    size = page.evaluate("parseFloat(getComputedStyle(document.querySelector('h2')).fontSize)")
    assert 0.72 * size / WALL[0] * 950 >= 20.4
    assert float(page.inner_text("[data-reach]").split(" m")[0]) >= 3.5
    page.context.close()


def test_a_page_of_a_rehearsal_says_how_fast_it_goes(browser: Any, fresh: Served) -> None:
    page = opened(browser, fresh, Role.LEAD, "/lead", SIZES["wide"])
    assert "times real time" not in page.inner_text(".who")
    # When the rehearsal goes faster, or is held back by a busy machine, every page says so
    for speed in (20.0, 7.5):
        fresh.console.day.desk.clock.set_speed(speed)
        fresh.console.day.hands.pass_time(1.5)
        page.wait_for_selector(f".who:has-text('at {speed:g} times real time')")
    page.context.close()
