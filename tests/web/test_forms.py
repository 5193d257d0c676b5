"""The pages without their script: ordinary forms, asked twice where nothing can be undone."""

from __future__ import annotations

import re
from html import unescape

import pytest
from demo_console import DemoConsole, Tablet, busy
from demo_day import LEAD, TENDER, status

from neckring.live.entries import Kind, Role
from neckring.live.run_records import Done
from neckring.web.app import make_app
from neckring.web.console_parts import ConsoleParts
from neckring.web.replay import FinishedRun
from neckring.web.settings import WebSettings


def forms_of(text: str) -> list[dict[str, str]]:
    """Every form of a page: its fields as they stand."""
    found = []
    for action, inside in re.findall(
        r'<form method="post" action="([^"]+)"[^>]*>(.*?)</form>', text, re.S
    ):
        fields = dict(re.findall(r'<input[^>]*?name="([^"]+)"[^>]*?value="([^"]*)"', inside))
        found.append({"action": action, **{n: unescape(v) for n, v in fields.items()}})
    return found


def form(tablet: Tablet, path: str, **wanted: str) -> dict[str, str]:
    """The form of a page that has these fields."""
    names = {name.replace("__", "."): value for name, value in wanted.items()}
    for each in forms_of(tablet.client.get(path).text):
        if all(each.get(name) == value for name, value in names.items()):
            return each
    raise AssertionError(f"no such form on {path}: {names}")


def send(tablet: Tablet, fields: dict[str, str], **more: str):
    whole = {n: v for n, v in fields.items() if n != "action"} | more
    origin = str(tablet.client.base_url).rstrip("/")
    headers = {"origin": origin, "accept": "text/html"}
    return tablet.client.post(fields["action"], data=whole, headers=headers)


@pytest.fixture
def console() -> DemoConsole:
    return busy()


def test_a_device_is_paired_by_form(console: DemoConsole) -> None:
    client = console.client()
    assert client.get("/").headers["location"] == "/pair"
    assert client.get("/lead").headers["location"] == "/pair"
    pin = console.admission.pins[Role.TENDER]
    wrong = client.post("/pair", data={"pin": "0", "person": TENDER})
    assert wrong.status_code == 403
    assert "This is no PIN of today." in wrong.text
    spaced = f" {pin[:3]} {pin[3:]} "
    paired = client.post("/pair", data={"pin": spaced, "person": TENDER})
    assert paired.headers["location"] == "/tender"
    assert client.get("/tender").status_code == 200
    assert client.get("/lead").status_code == 403


def test_a_step_is_done_by_form_and_said_on_the_page(console: DemoConsole) -> None:
    # Given the tender's page
    tender = console.paired(Role.TENDER)
    fields = form(tender, "/tender", kind="step done", body__step="4")
    # When its form is sent, and sent again as browsers may
    first, again = send(tender, fields), send(tender, fields)
    # Then it is done once, and the page says so
    assert status(console.day, 4) is Done.DONE
    assert first.headers["location"] == again.headers["location"]
    assert "Recorded: step done" in tender.client.get(first.headers["location"]).text


def test_a_refusal_is_said_on_the_page_in_the_desks_words(console: DemoConsole) -> None:
    tender = console.paired(Role.TENDER)
    fields = form(tender, "/tender", kind="step done", body__step="4")
    console.day.done(console.day.next())
    answer = send(tender, fields)
    assert "is done already" in tender.client.get(answer.headers["location"]).text


def test_what_became_of_others_forms_is_not_told(console: DemoConsole) -> None:
    lead, tender = console.paired(Role.LEAD), console.paired(Role.TENDER)
    answer = lead.form("/do", kind="note", back="/lead", **{"body.words": "mine"})
    number = answer.headers["location"].rpartition("=")[2]
    assert "Recorded: note" in lead.client.get(f"/lead?entry={number}").text
    assert "Recorded: note" not in tender.client.get(f"/tender?entry={number}").text
    for wrong in ("0", "-1", "x", "999999999", "1" * 40):
        assert lead.client.get(f"/lead?entry={wrong}").status_code == 200


def test_stop_is_one_touch_and_resume_is_asked_twice(console: DemoConsole) -> None:
    lead = console.paired(Role.LEAD)
    assert send(lead, form(lead, "/lead", kind="stop")).status_code == 303
    assert console.day.state.stopped == {"A", "B"}
    resume = form(lead, "/lead", kind="resume")
    asked = send(lead, resume, **{"body.reason": "All are well"})
    assert asked.status_code == 200
    assert "Yes, do it" in asked.text
    assert console.day.state.stopped == {"A", "B"}
    confirmed = next(f for f in forms_of(asked.text) if f.get("confirmed") == "yes")
    assert send(lead, confirmed).status_code == 303
    assert not console.day.state.stopped


def test_a_call_is_answered_question_by_question(console: DemoConsole) -> None:
    lead = console.paired(Role.LEAD)
    fields = form(lead, "/lead", kind="call answered", body__wearer="A")
    send(
        lead, fields, **{"body.answers.0": "well", "body.answers.2": "warm", "body.answers.9": "x"}
    )
    answered = console.day.state.calls["A"].answers
    questions = console.day.sheet.calls.questions
    assert answered == {questions[0]: "well", questions[2]: "warm"}


def test_a_step_is_left_out_only_after_the_prover_was_asked(console: DemoConsole) -> None:
    lead = console.paired(Role.LEAD)
    asked = lead.client.get("/lead/otherwise?step=4").text
    possible = console.day.desk.ask(4)
    fields = next(f for f in forms_of(asked) if f.get("kind") == "step left out")
    assert fields["body.shown"] == possible.shown
    answer = send(lead, fields, **{"body.reason": "seen already", "body.accepts": "true"})
    assert "Recorded: step left out" in lead.client.get(answer.headers["location"]).text
    assert status(console.day, 4) is Done.LEFT_OUT
    moved = lead.client.get("/lead/otherwise?step=6&before=5").text
    assert "Step 6 before step 5" in moved
    for nothing in ("step=999", "step=x", "step=6&before=6", "before=3"):
        assert "I accept" not in lead.client.get(f"/lead/otherwise?{nothing}").text


def test_a_measured_step_says_what_it_must_show_and_takes_a_figure() -> None:
    console = DemoConsole()
    console.day.begin("dress").upto(3)
    tender = console.paired(Role.TENDER)
    fields = form(tender, "/tender", kind="step done")
    assert fields["body.measured.unit"]
    too_slow = send(tender, fields, **{"body.measured.value": "7"})
    assert "Refused" in tender.client.get(too_slow.headers["location"]).text
    assert status(console.day, 3) is Done.FAILED
    fields = form(tender, "/tender", kind="step done")
    send(tender, fields, **{"body.measured.value": "72"})
    assert status(console.day, 3) is Done.DONE


def test_a_second_person_confirms_and_not_the_first() -> None:
    console = DemoConsole()
    day = console.day.begin("dress")
    while (step := day.next()) is not None and not step.two_people:
        day.done(step)
    day.does(TENDER, Kind.STEP_DONE, **day.step_body(step))
    tender, medic = console.paired(Role.TENDER), console.paired(Role.LEAD)
    lane = step.lanes[0]
    assert "You did it" in tender.client.get(f"/tender?lane={lane}").text
    fields = form(medic, "/lead", kind="step confirmed")
    send(medic, fields)
    assert status(day, step.number) is Done.DONE


def test_a_card_is_opened_carried_out_and_closed(console: DemoConsole) -> None:
    lead = console.paired(Role.LEAD)
    send(lead, form(lead, "/lead", kind="card opened", body__card="air-lost", body__wearer="B"))
    send(lead, form(lead, "/lead", kind="card step done", body__step="1"))
    assert list(console.day.state.cards["air-lost", "B"].done) == [1]
    close = form(lead, "/lead", kind="card closed")
    asked = send(lead, close, **{"body.reason": "air is back"})
    send(lead, next(f for f in forms_of(asked.text) if f.get("confirmed") == "yes"))
    assert not console.day.state.cards


def test_new_pins_let_everybody_try_again(console: DemoConsole) -> None:
    lead = console.paired(Role.LEAD)
    before = dict(console.admission.pins)
    console.admission.throttle.failed("192.0.2.7", False, 0.0)
    lead.form("/lead/pins")
    assert set(before.values()).isdisjoint(console.admission.pins.values())
    assert console.admission.throttle == type(console.admission.throttle)()
    page = lead.client.get("/lead").text
    assert all(pin in page for pin in console.admission.pins.values())
    assert (
        console.admission.pins[Role.LEAD]
        not in console.paired(Role.TENDER).client.get("/tender").text
    )


# The replay


@pytest.fixture(scope="module")
def finished() -> DemoConsole:
    console = busy()
    console.day.does(LEAD, Kind.STOP, reason="enough", wearer="A")
    console.day.does(LEAD, Kind.RUN_CLOSED, reason="over", accepts=True)
    parts = ConsoleParts(
        desk=FinishedRun(console.day.book, console.day.sheet),
        book=console.day.book,
        sheet=console.day.sheet,
        intake=console.intake,
        history=console.history,
    )
    console.app = make_app(parts, WebSettings(replay=True))
    return console


def test_a_replay_shows_what_stood_there_then(finished: DemoConsole) -> None:
    client = finished.client()
    end = finished.day.state.run_time
    early = client.get("/replay?at=30").text
    late = client.get(f"/replay?at={int(end) + 100}").text
    assert "Going: Dress two wearers" in early
    assert "Closed" in late
    first = finished.day.book.written[0].stamp.run_time
    told = client.get(f"/replay/parts?at={int(first) + 40}").json()
    shown = [e for e in finished.day.book.written if e.stamp.run_time <= told["run_time"]]
    numbers = re.findall(r'right whole">(\d+)<', told["parts"]["log"])
    assert int(numbers[0]) == shown[-1].number
    assert client.get("/replay?at=-1").status_code == 422


def test_a_replay_writes_nothing_and_is_for_this_machine(finished: DemoConsole) -> None:
    assert finished.client("192.0.2.7").get("/replay").status_code == 403
    client = finished.client()
    assert '<form method="post"' not in client.get("/replay").text
    assert client.post("/do", data={}).status_code == 404
    pin = finished.admission.pins[Role.LEAD]
    assert client.post("/api/v1/pair", json={"pin": pin, "person": LEAD}).status_code == 503


def test_the_state_of_a_replay_is_the_fold_however_often_one_looks(finished: DemoConsole) -> None:
    from neckring.live.run_state import fold_all
    from neckring.web.replay import Replay

    replay = Replay(finished.app.state.admission.parts, finished.app.state.admission)
    replay._catch_up()
    for count in (0, 1, 199, 200, 201, len(finished.day.book.written)):
        whole = fold_all(finished.day.sheet, finished.day.book.written[:count])
        assert replay._state_after(count) == whole
