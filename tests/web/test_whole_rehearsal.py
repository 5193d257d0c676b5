"""A whole rehearsal of the demo, run by the pages of five devices at once in a real browser.

What comes by itself is waited for; nothing is said of how long it took. Most steps are tapped by
programs over the same interface; under NECKRING_SOAK=1 every one is tapped on a page.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from book_worlds import in_memory
from chromium import AXE, BROWSER, NO_BROWSER, chromium, photographed, violations
from demo_day import LEAD, MEDIC, SECOND, TENDER, TRAINER, good_reading
from rehearsed import PATIENCE, Crew, Program, Rehearsed, rehearsed

from neckring.live.entries import Kind, Role
from neckring.live.run_records import Done
from neckring.live.sheet_steps import SheetStep
from neckring.served_run.shown import scores

pytestmark = pytest.mark.skipif(not BROWSER.exists(), reason=NO_BROWSER)
SOAK = os.environ.get("NECKRING_SOAK") == "1"
SOME = 10
"""So many steps of undressing leave everybody in the suit."""
SIZES = {"lead": (1280, 800), "tender": (800, 1280), "medic": (800, 1280), "trainer": (1280, 800)}
WALL = (1920, 1080)
COUNTS_TONES = """
    window.tones = 0;
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (...when) {
        window.tones += 1;
        start.apply(this, when);
    };
"""
HAS_SETTLED = """selector => {
    const form = document.querySelector(selector)?.closest('form[data-deed]');
    return !form || seconds() - (came.get(meaning(form)) ?? -Infinity) > SETTLES;
}"""

IN_SIGHT = """selector => {
    const box = document.querySelector(selector).getBoundingClientRect();
    const bar = document.querySelector('.bottom').getBoundingClientRect();
    return box.top > 0 && box.bottom <= bar.top;
}"""


@dataclass
class Page:
    """One device's page, and a finger on it."""

    tab: Any
    day: Rehearsed

    def sees(self, words: str) -> None:
        self.tab.wait_for_selector(f"text={words}", timeout=1000 * PATIENCE)

    def press(self, name: str, *, sure: bool = False) -> None:
        """Tap a button; where the page asks again, say yes."""
        self.tap(f"#press-{name}")
        if sure:
            self.tab.click("#confirm-yes")

    def tap(self, selector: str) -> None:
        self.tab.wait_for_selector(selector, timeout=1000 * PATIENCE)
        self.tab.wait_for_function(HAS_SETTLED, arg=selector)
        self.tab.click(selector)

    def unfold(self, name: str) -> None:
        if self.tab.get_attribute(f"#{name}", "open") is None:
            self.tab.click(f"#{name} > summary")

    def write(self, name: str, words: str) -> None:
        self.tab.fill(f"#field-{name}", words)

    def does(self, step: SheetStep) -> None:
        """Tap Done at a step, with what its instrument shows."""
        self.taps_done(step)
        self.day.until(lambda: status(self.day, step) is not Done.OPEN, f"{step.called} is done")

    def taps_done(self, step: SheetStep) -> None:
        key = key_of(step)
        if step.reads is not None:
            self.tab.wait_for_selector(f"#field-{key}", timeout=1000 * PATIENCE)
            self.write(key, str(good_reading(step)["value"]))
        self.press(f"done-{key}")

    def lets_count(self, step: SheetStep, why: str) -> None:
        """Let a step count that was refused, as the lead alone can."""
        key = key_of(step)
        self.tab.wait_for_selector(f"#all-the-same-{key}", timeout=1000 * PATIENCE)
        self.unfold(f"all-the-same-{key}")
        if step.reads is not None:
            self.write(f"accept-{key}", str(good_reading(step)["value"]))
        self.write(f"accept-why-{key}", why)
        self.press(f"accept-{key}", sure=True)

    def keyboard_to(self, wanted: str) -> None:
        """Go on by Tab alone to what has this id."""
        for _ in range(150):
            self.tab.keyboard.press("Tab")
            if self.tab.evaluate("document.activeElement.id") == wanted:
                return
        raise AssertionError(f"{wanted} is not reached by Tab")


@dataclass
class CrewOfPages(Crew):
    """Everybody taps on pages, the second person by a program."""

    pages: dict[str, Page] = field(default_factory=dict)

    def step(self, step: SheetStep) -> None:
        page, day = self.pages["tender" if step.who == "tender" else "lead"], self.rehearsed
        before = len(day.entries(Kind.REFUSED))
        page.taps_done(step)
        day.until(
            lambda: status(day, step) is not Done.OPEN or len(day.entries(Kind.REFUSED)) > before,
            f"{step.called} is answered",
        )
        if status(day, step) is Done.OPEN:
            assert self.otherwise, step.called
            self.pages["lead"].lets_count(step, self.otherwise)
            day.until(lambda: status(day, step) is not Done.OPEN, f"{step.called} counts")
        if step.two_people:
            body = {"procedure": step.procedure, "step": step.number}
            self.by[SECOND].does(Kind.STEP_CONFIRMED, **body)


def key_of(step: SheetStep) -> str:
    return f"{step.lanes[0]}-{step.procedure}-{step.number}"


def status(day: Rehearsed, step: SheetStep) -> Done:
    return day.served.desk.state.progress[step.procedure].of(step.number).status


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as started:
        yield started


@pytest.fixture
def day() -> Iterator[Rehearsed]:
    with in_memory() as folder, rehearsed(Path(folder) / "kept") as found:
        yield found


def paired(browser: Any, day: Rehearsed, role: Role, person: str, size: tuple[int, int]) -> Page:
    """A device of its own, paired by PIN on the page for it."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]})
    context.set_default_timeout(1000 * PATIENCE)
    tab = context.new_page()
    tab.said = []
    tab.asked = []
    tab.on("pageerror", lambda error: tab.said.append(str(error)))
    tab.on("request", lambda request: tab.asked.append(request.url))
    tab.add_init_script(COUNTS_TONES)
    tab.goto(f"{day.address}/")
    tab.fill("#field-pin", day.pins[role])
    tab.select_option("#field-person", person)
    tab.click("button:text-is('Pair this device')")
    tab.wait_for_selector("text=Link good")
    return Page(tab, day)


def all_see(pages: dict[str, Page], words: str) -> None:
    for page in pages.values():
        page.sees(words)


def test_a_whole_rehearsal_by_the_pages_of_five_devices(browser: Any, day: Rehearsed) -> None:
    # Given four people's tablets and a wall, each paired by PIN, and programs of the team's own
    people = {"lead": LEAD, "tender": TENDER, "medic": MEDIC, "trainer": TRAINER}
    pages = {
        view: paired(browser, day, Role(view), person, SIZES[view])
        for view, person in people.items()
    }
    pages["wall"] = paired(browser, day, Role.WALL, "", WALL)
    programs = {who: Program(day, who) for who in (LEAD, TENDER, SECOND, MEDIC)}
    crew = CrewOfPages(day, programs, pages=pages) if SOAK else Crew(day, programs)
    day.until(lambda: day.served.watch.rehearsal, "the suits are made ready")

    # When the day is gone through, from dressing to the release
    dressing(day, crew, pages)
    a_tablet_away_and_back(day, crew, pages)
    crew.rest()
    pages["lead"].press("end", sure=True)
    going_out(day, crew, pages)
    a_call_answered(day, pages["medic"])
    fans_stop(day, crew, pages)
    home_and_released(day, crew, pages)

    # Then the book is whole, every page stood it without an error, and asked nobody else
    assert day.served.book.verify().count == day.served.desk.state.number
    for view, page in pages.items():
        assert page.tab.said == [], view
        assert [url for url in page.tab.asked if not url.startswith(day.address)] == [], view
        page.tab.context.close()


def dressing(day: Rehearsed, crew: Crew, pages: dict[str, Page]) -> None:
    lead, tender = pages["lead"], pages["tender"]
    # Begun by the lead, and the first spells by lead and tender
    lead.press("begin")
    all_see(pages, "Going: Dress two wearers")
    lead.press("spell-A")
    tender.press("spell-B")
    day.until(lambda: len(day.served.desk.state.spells) == 2, "both spells are begun")

    # A step by keyboard alone, and one by finger
    first, second = day.served.sheet.procedures["dress"].steps[:2]
    lead.tab.keyboard.press("Home")
    lead.keyboard_to(f"press-done-{key_of(first)}")
    lead.tab.keyboard.press("Enter")
    day.until(lambda: status(day, first) is Done.DONE, "done by keyboard")
    lead.does(second)

    # A value read, and a step that is not right, at the tender; the lead sees what is wrong
    crew_step = day.turn
    assert crew_step is not None
    assert crew_step.reads is not None
    tender.does(crew_step)
    wrong = day.turn
    assert wrong is not None
    tender.tab.wait_for_selector(f"#not-{key_of(wrong)}")
    tender.unfold(f"not-{key_of(wrong)}")
    tender.write(f"failed-{key_of(wrong)}", "a pad of the strap is dry")
    tender.press(f"failed-{key_of(wrong)}")
    lead.sees("a pad of the strap is dry")
    assert status(day, wrong) is Done.FAILED
    tender.does(wrong)
    day.until(lambda: status(day, wrong) is Done.DONE, "done the second time")

    # A check by two people: who did it cannot be the second one
    check = crew.upto(lambda step: step.two_people)
    tender.does(check)
    tender.sees("You did it: somebody else confirms")
    lead.press(f"confirm-{key_of(check)}")
    day.until(lambda: status(day, check) is Done.DONE, "confirmed by the lead")
    record = day.served.desk.state.progress["dress"].of(check.number)
    assert (record.by, record.confirmed_by) == (TENDER, (LEAD,))

    # Hold, and resume by the lead alone
    tender.press("hold")
    all_see({view: page for view, page in pages.items() if view != "wall"}, f"Called by {TENDER}")
    pages["wall"].sees("Hold")
    assert tender.tab.query_selector("#press-resume") is None
    lead.press("resume", sure=True)
    all_see(pages, "Going: Dress two wearers")

    # A step left out, once the prover has said what becomes possible, and with a reason
    left_out = day.turn
    assert left_out is not None
    lead.tab.click("#press-otherwise")
    lead.tab.select_option("#field-step", str(left_out.number))
    lead.tab.click("button:text-is('Ask the prover what becomes possible')")
    lead.write("otherwise", "seen while they were put on")
    told = lead.tab.inner_text(".standing p")
    lead.tab.check("input[name='body.accepts']")
    lead.tab.click(f"button:text-is('Leave out step {left_out.number}')")
    lead.sees("Recorded: step left out")
    (entry,) = day.entries(Kind.STEP_LEFT_OUT)
    assert entry.deed.body["shown"] == told
    assert entry.deed.body["reason"] == "seen while they were put on"
    lead.sees("Link good")


def a_tablet_away_and_back(day: Rehearsed, crew: Crew, pages: dict[str, Page]) -> None:
    lead, tender = pages["lead"], pages["tender"]
    step = crew.upto(lambda s: s.who == "tender" and s.reads is None and not s.two_people)
    tender.tab.wait_for_selector(f"#press-done-{key_of(step)}")
    # When the tender's network is gone, taps wait and are counted; one tapped twice waits once
    tender.tab.context.set_offline(True)
    tender.press(f"done-{key_of(step)}")
    tender.sees("1 tap not yet recorded")
    tender.press(f"done-{key_of(step)}")
    tender.sees("It waits already")
    tender.press("open-umbilical-snaggedB")
    tender.sees("2 taps not yet recorded")
    tender.press("hold")
    tender.sees("3 taps not yet recorded")
    assert status(day, step) is Done.OPEN
    # And when it is back, each is recorded once, in the order in which it was tapped
    tender.tab.context.set_offline(False)
    tender.sees("every tap recorded")
    tender.sees("Link good")
    last = [e for e in day.served.book.entries() if e.deed.actor == TENDER and e.deed.tapped_at]
    assert [e.deed.kind for e in last[-3:]] == [Kind.STEP_DONE, Kind.CARD_OPENED, Kind.HOLD]
    assert Counter(e.deed.key for e in last).most_common(1)[0][1] == 1
    assert status(day, step) is Done.DONE
    lead.unfold("close-umbilical-snagged-B")
    lead.write("close-umbilical-snaggedB", "for practice")
    lead.press("close-umbilical-snaggedB", sure=True)
    lead.press("resume", sure=True)
    all_see(pages, "Going: Dress two wearers")


def going_out(day: Rehearsed, crew: Crew, pages: dict[str, Page]) -> None:
    crew.spells(2)
    crew.whole("changeover")
    if SOAK:
        crew.whole("go")
    else:
        # What is left of a procedure is let go by the lead, with a reason
        crew.by[LEAD].does(Kind.PROCEDURE_BEGUN, procedure="go")
        pages["lead"].sees("Going: Send out")
        end_here(day, pages["lead"], "not part of this drill")
    for number in (3, 4):
        crew.spells(number)
    day.until(
        lambda: crew.answer_calls() or len(day.served.watch.estimates) == 2, "both are estimated"
    )
    for view in ("lead", "medic"):
        pages[view].sees("What binds:")


def a_call_answered(day: Rehearsed, medic: Page) -> None:
    # At 20 times real time the next call comes every 15 s: one that has passed is refused
    def answered() -> list[object]:
        return [
            entry
            for entry in day.entries(Kind.CALL_ANSWERED)
            if entry.deed.body["answers"].get("Any headache?") == "none"
        ]

    for _ in range(5):
        medic.unfold("call-A")
        medic.write("call-A-1", "well")
        medic.write("call-A-2", "none")
        medic.press("call-A")
        medic.sees("every tap recorded")
        if answered():
            return
    raise AssertionError("no call was answered by the medic's page")


def fans_stop(day: Rehearsed, crew: Crew, pages: dict[str, Page]) -> None:
    lead, tender, medic, trainer = (pages[v] for v in ("lead", "tender", "medic", "trainer"))
    for page in (lead, medic):
        page.tab.click("[data-sound]")
        page.sees("Sound is on")
    tones = {view: pages[view].tab.evaluate("tones") for view in ("lead", "medic")}
    # When the trainer breaks the fans of A, nobody else is told that they are broken
    trainer.tab.select_option("#fault-A", "fans")
    trainer.press("break-A")
    trainer.sees("Mend it")

    def alarm() -> str:
        crew.answer_calls()
        found = day.served.desk.state.alarms.items()
        # Those that come before it are named in it as soon as it is there.
        keys = (k for k, a in found if a.wearer == "A" and a.cause == "air-lost")
        return next(keys, "")

    day.until(alarm, "an alarm tells of the fans")
    key = alarm()
    # Then the alarm stands on every page and sounds, until somebody has heard it, by name
    button = f".alarm:has(input[value='{key}']) button"
    for page in (lead, tender, medic):
        page.tab.wait_for_selector(button)
    pages["wall"].tab.wait_for_selector(".alarm.rank-3, .alarm.rank-2")
    for view, before in tones.items():
        pages[view].tab.wait_for_function("before => rank > 0 && tones > before", arg=before)
    assert Kind.FAULT_BEGUN not in kinds_shown_to(lead)
    medic.tap(button)
    all_see({v: p for v, p in pages.items() if v != "trainer"}, f"heard by {MEDIC}")

    # And one touch of the tender stops all
    tender.press("stop")
    all_see(pages, "STOP for A and B")
    tender.press("open-air-lostA")
    lead.sees("air lost: A, open for")
    # Whoever opens a card is shown it
    tender.tab.wait_for_selector("#card-air-lost-A")
    tender.tab.wait_for_function(IN_SIGHT, arg="#press-card-air-lostA1")
    with_all_open(pages)
    steps = day.served.sheet.cards["air-lost", "A"].steps
    for step in steps:
        if step.number <= 3 or SOAK:
            tender.press(f"card-air-lostA{step.number}")
        else:
            crew.by[LEAD].does(Kind.CARD_STEP_DONE, card="air-lost", wearer="A", step=step.number)
        day.until(
            lambda n=step.number: n in day.served.desk.state.cards["air-lost", "A"].done,
            f"step {step.number} of the card",
        )
    lead.unfold("close-air-lost-A")
    lead.write("close-air-lostA", "fresh air by the snorkel")
    lead.press("close-air-lostA", sure=True)
    trainer.press("mend-Afans")

    # And by keyboard alone the lead resumes, being asked first
    lead.tab.wait_for_selector("#press-resume")
    lead.keyboard_to("press-resume")
    lead.tab.keyboard.press("Enter")
    assert lead.tab.evaluate("document.activeElement.id") == "confirm-no"
    lead.tab.keyboard.press("Tab")
    lead.tab.keyboard.press("Enter")
    all_see(pages, "Going")
    assert not day.served.desk.state.stops
    # A stop by keyboard as well, and home
    lead.keyboard_to("press-stop")
    lead.tab.keyboard.press("Space")
    all_see(pages, "STOP for A and B")
    lead.press("resume", sure=True)
    medic.press("back-A")
    tender.press("back-B")
    day.until(lambda: len(day.served.desk.state.turned_back) == 2, "both have turned back")
    assert "the fans stop" in trainer.tab.inner_text("[data-part=scores]")


def with_all_open(pages: dict[str, Page]) -> None:
    """Alarms, a stop, a card and charts all there at once: a picture, and nothing for axe."""
    for view, page in pages.items():
        photographed(page.tab, f"rehearsal-{view}")
        page.tab.evaluate("document.querySelectorAll('details').forEach(e => { e.open = true; })")
        assert page.tab.evaluate("document.documentElement.scrollWidth <= innerWidth"), view
        if AXE.exists():
            assert violations(page.tab) == [], view
        page.tab.evaluate("document.querySelectorAll('details').forEach(e => { e.open = false; })")


def end_here(day: Rehearsed, lead: Page, why: str) -> None:
    lead.tab.wait_for_selector("#end-anyway")
    lead.unfold("end-anyway")
    lead.write("end-anyway", why)
    lead.press("end-anyway", sure=True)
    day.until(lambda: not day.served.desk.state.procedure, "ended by the lead")


def kinds_shown_to(page: Page) -> set[str]:
    """Kinds of all entries that a device may see."""
    found: set[str] = set()
    after, last = 0, 1
    while after < last:
        told = page.tab.context.request.get(f"{page.day.address}/api/v1/entries?after={after}")
        last, shown = told.json()["last"], told.json()["entries"]
        found |= {entry["kind"] for entry in shown}
        after = shown[-1]["number"] if shown else last
    return found


def begin_all_the_same(day: Rehearsed, lead: Page, code: str) -> None:
    lead.tab.wait_for_selector("#begin-anyway")
    lead.unfold("begin-anyway")
    lead.write("begin-anyway", "both are in the bay, helmets open")
    lead.press("begin-anyway", sure=True)
    day.until(lambda: day.served.desk.state.procedure == code, f"{code} is begun all the same")


def home_and_released(day: Rehearsed, crew: Crew, pages: dict[str, Page]) -> None:
    lead, medic = pages["lead"], pages["medic"]
    last = len(day.served.sheet.wearers["A"].run.outing) - 1
    crew.spells(last - 2)
    # The card has brought A back with an open visor: what was proved begins elsewhere
    lead.press("begin")
    lead.sees("return was proved from another state")
    begin_all_the_same(day, lead, "return")
    end_here(day, lead, "the card has brought both back")
    crew.spells(last)
    begin_all_the_same(day, lead, "undress")
    crew.otherwise = "seen with our own eyes"
    crew.upto(lambda step: step.number > SOME)
    # Nobody is released who is still in the suit
    medic.press("release-A", sure=True)
    medic.sees("wearer A is still in the suit")
    crew.rest()
    lead.press("end", sure=True)
    # When the medic has released both, the lead closes the run
    for letter in "AB":
        medic.press(f"release-{letter}", sure=True)
        medic.sees(f"Released by {MEDIC}")
    day.until(lambda: len(day.served.desk.state.released) == 2, "both are released")
    lead.unfold("close-run")
    lead.press("close-run", sure=True)
    # Then every page says so, and what the trainer broke is hidden from nobody any more
    all_see(pages, "Closed")
    assert Kind.FAULT_BEGUN in kinds_shown_to(lead)
    (score,) = scores(day.served)
    assert score.noticed_by == MEDIC
    assert score.acted is not None
