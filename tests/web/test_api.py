"""The interface for programs: deeds once each, readings, entries, and problems in one form."""

from __future__ import annotations

import json
from itertools import pairwise

import pytest
from demo_console import DemoConsole, busy
from demo_day import LEAD

from neckring.live.bodies import FORMS
from neckring.live.entries import Kind, Role
from neckring.web.openapi import document
from neckring.web.openapi_schemas import MEMBERS, body_schema
from neckring.web.page_views import band_words, clock_words, span_words
from neckring.web.request_reading import ASKED


@pytest.fixture(scope="module")
def console() -> DemoConsole:
    return busy()


def test_a_deed_sent_again_is_recorded_once(console: DemoConsole) -> None:
    lead = console.paired(Role.LEAD)
    first = lead.tap(Kind.NOTE, key="once", words="x").json()
    again = lead.tap(Kind.NOTE, key="once", words="x").json()
    assert first["status"] == "recorded"
    assert again == {"status": "known", "number": first["number"], "why": ""}


def test_a_refusal_sent_again_still_says_why(console: DemoConsole) -> None:
    lead = console.paired(Role.LEAD)
    first = lead.tap(Kind.STEP_DONE, key="no", procedure="undress", step=1).json()
    again = lead.tap(Kind.STEP_DONE, key="no", procedure="undress", step=1).json()
    assert (first["status"], again["status"]) == ("refused", "known")
    assert first["why"] == again["why"] != ""


def test_a_stop_counts_whatever_is_sent_with_it(console: DemoConsole) -> None:
    tender = console.paired(Role.TENDER)
    for body in ({}, {"wearer": 7}, {"reason": ["x"]}, {"a": {"b": [None]}}):
        sent = {"key": f"stop-{len(str(body))}", "kind": "stop", "body": body}
        headers = {"x-neckring-guard": tender.guard}
        answer = tender.client.post("/api/v1/deeds", json=sent, headers=headers)
        assert answer.json()["status"] == "recorded"
    console.day.does(LEAD, Kind.RESUME, reason="a test of stops")


def test_tapped_and_committed_are_kept_apart(console: DemoConsole) -> None:
    lead = console.paired(Role.LEAD)
    sent = {"key": "late", "kind": "note", "body": {"words": "x"}, "tapped_at": 5.0, "offset": 1.5}
    lead.client.post("/api/v1/deeds", json=sent, headers={"x-neckring-guard": lead.guard})
    entry = console.day.book.by_key["late"]
    assert (entry.deed.tapped_at, entry.deed.offset) == (5.0, 1.5)
    assert entry.stamp.wall == console.day.hands.wall


def test_a_book_that_cannot_be_written_acknowledges_nothing() -> None:
    # Given a full disk
    console = DemoConsole()
    lead = console.paired(Role.LEAD)
    console.day.book.fails_before = True
    # When something is tapped, by script or by form, or somebody pairs
    tap = lead.tap(Kind.STOP, key="full")
    form = lead.form("/do", kind="stop")
    pin = console.admission.pins[Role.WALL]
    pairing = console.client().post("/api/v1/pair", json={"pin": pin})
    # Then it is said, and nothing counts
    for answer in (tap, form, pairing):
        assert answer.status_code == 503
        assert "the disk is full" in answer.text
    assert tap.json()["title"] == "Service Unavailable"
    assert not console.day.state.stops
    # And sent again once there is room, it counts once
    console.day.book.fails_before = False
    assert lead.tap(Kind.STOP, key="full").json()["status"] == "recorded"


@pytest.mark.parametrize(
    ("content", "media", "status"),
    [
        (b"", "application/json", 400),
        (b"{", "application/json", 400),
        (b"\xff", "application/json", 400),
        (b"[" * 100_00, "application/json", 400),
        (b'{"key": NaN}', "application/json", 400),
        (b"[]", "application/json", 422),
        (b'{"key": "\\ud800"}', "application/json", 422),
        (b'{"key": 1e999}', "application/json", 422),
        (b"{}", "application/json", 422),
        (b'{"key": "k", "kind": "paired", "body": {}}', "application/json", 422),
        (b'{"key": "k", "kind": "note", "body": []}', "application/json", 422),
        (b'{"key": "k", "kind": "note", "tapped_at": true}', "application/json", 422),
        (b"key=k", "application/x-www-form-urlencoded", 415),
    ],
)
def test_what_cannot_be_read_is_a_problem_document(
    console: DemoConsole, content: bytes, media: str, status: int
) -> None:
    # RFC 9457, section 3: media type, and the members type, title, status, detail
    headers = console.program(Role.LEAD) | {"content-type": media}
    number = console.day.state.number
    answer = console.client().post("/api/v1/deeds", content=content, headers=headers)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    told = answer.json()
    assert told["status"] == status
    assert told["type"] == "about:blank"
    assert told["title"]
    assert told["detail"]
    assert console.day.state.number == number


def test_entries_come_in_order_from_where_one_is(console: DemoConsole) -> None:
    headers = console.program(Role.MEDIC)
    client = console.client()
    first = client.get("/api/v1/entries?most=10", headers=headers).json()
    next_ones = client.get("/api/v1/entries?after=10&most=500", headers=headers).json()
    numbers = [entry["number"] for entry in (*first["entries"], *next_ones["entries"])]
    assert numbers == list(range(1, console.day.state.number + 1))
    assert first["last"] == console.day.state.number
    for wrong in ("after=-1", "after=x", "after=1e3", "most=0", "most=501", "after=" + "9" * 30):
        assert client.get(f"/api/v1/entries?{wrong}", headers=headers).status_code == 422


def test_the_state_says_what_the_pages_say(console: DemoConsole) -> None:
    headers = console.program(Role.LEAD)
    told = console.client().get("/api/v1/state", headers=headers).json()
    lanes = {lane["lane"]: lane["next"] for lane in told["lanes"]}
    assert told["procedure"] == "go"
    assert lanes["tender"]["step"] == 4
    assert lanes["tender"]["waits"] == ""
    assert "step 4" in lanes["A"]["waits"]
    assert told["wearers"]["A"]["estimate"]["failures"][0]["slack"]["high"] is None, "no end"
    assert [alarm["rank"] for alarm in told["alarms"]] == [3, 1, 2]


# Readings


def test_readings_by_http_need_a_sources_token_and_are_kept() -> None:
    # Given a source whose token the lead has drawn
    console = DemoConsole()
    lead = console.paired(Role.LEAD)
    page = lead.form("/lead/source", source="radio in the yard").text
    token = page.split("<code>")[1].split("</code>")[0]
    name = console.intake.wired["A"].measuring("heart_rate")[0].known_as.replace("*:", "urn:x:")
    pack = json.dumps([{"n": name, "u": "/min", "v": 96}]).encode()

    def send(wearer: str, content: bytes = pack, media: str = "application/senml+json", **more):
        headers = {"authorization": f"Bearer {token}", "content-type": media} | more
        return console.client().post(
            f"/api/v1/readings?wearer={wearer}", content=content, headers=headers
        )

    # When it sends a pack
    answer = send("A")
    # Then the reading is there, converted, and kept
    assert answer.status_code == 202
    taken = answer.json()["taken"][0]
    assert taken["quantity"] == "heart_rate"
    assert taken["value"] == pytest.approx(1.6)
    assert taken["shown"] == "96\N{NO-BREAK SPACE}bpm"
    assert len(console.kept_readings) == 1
    latest = lead.client.get("/api/v1/readings").json()["latest"]
    assert [reading["channel"] for reading in latest] == [taken["channel"]]
    # And whatever else comes is refused with its reason
    assert send("C").status_code == 422
    assert send("A", b"{}").status_code == 422
    assert send("A", media="application/json").status_code == 415
    assert send("A", authorization="Bearer x").status_code == 401
    assert send("A", b" " * 300_000).status_code == 413
    assert len(console.kept_readings) == 1
    # And a token drawn anew ends the one before
    lead.form("/lead/source", source="radio in the yard")
    assert send("A").status_code == 401


def test_a_devices_session_is_no_sensors_token(console: DemoConsole) -> None:
    headers = console.program(Role.LEAD) | {"content-type": "application/senml+json"}
    answer = console.client().post("/api/v1/readings?wearer=A", content=b"[]", headers=headers)
    assert answer.status_code == 401


def test_a_history_has_its_gap(console: DemoConsole) -> None:
    headers = console.program(Role.MEDIC)
    channel = console.intake.wired["A"].measuring("heart_rate")[0].name
    asked = console.client().get(f"/api/v1/readings?history=A.{channel}", headers=headers).json()
    times = [at for at, _ in asked["points"]]
    assert asked["unit"] == "bpm"
    assert max(b - a for a, b in pairwise(times)) == pytest.approx(62.0)
    for wrong in ("A", "A.", "A.none", "C.heart", ""):
        answer = console.client().get(f"/api/v1/readings?history={wrong}", headers=headers)
        assert answer.status_code == 404


# What describes it


def test_the_description_has_every_kind_as_the_desk_takes_it() -> None:
    told = document("1")
    assert told["openapi"] == "3.1.0"
    kinds = {schema["properties"]["kind"]["const"] for schema in _deeds(told)}
    assert kinds == {kind.value for kind in ASKED}
    for kind in ASKED:
        if kind is not Kind.STOP:
            assert set(body_schema(kind)["properties"]) == set(FORMS[kind])
            assert {name for name, form in FORMS[kind].items() if form.needed} == set(
                body_schema(kind)["required"]
            )
    used = {name for kind in ASKED if kind is not Kind.STOP for name in FORMS[kind]}
    assert used == set(MEMBERS), "none missing, none left over"


def _deeds(told: dict) -> list[dict]:
    schemas = told["components"]["schemas"]
    names = [each["$ref"].rsplit("/", 1)[1] for each in schemas["Deed"]["oneOf"]]
    return [schemas[name] for name in names]


def test_every_route_of_the_interface_is_described(console: DemoConsole) -> None:
    described = {
        (method.upper(), path)
        for path, methods in document("1")["paths"].items()
        for method in methods
    }
    there = {
        (method, route.path)
        for route in console.app.routes
        if getattr(route, "path", "").startswith("/api/")
        for method in route.methods - {"HEAD"}
    }
    assert described == there


# Words for times


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.0, "0\xa0s"),
        (119.9, "119\xa0s"),
        (120.0, "2\xa0min"),
        (179.0, "2\xa0min"),
        (-1.0, "−1\xa0s"),
        (-0.2, "−1\xa0s"),
        (-130.0, "−2\xa0min"),
        (float("inf"), "no end in sight"),
    ],
)
def test_a_span_never_seems_longer_than_it_is(seconds: float, words: str) -> None:
    assert span_words(seconds) == words


def test_clock_and_band_words() -> None:
    from neckring.live.estimated import Band

    assert [clock_words(t) for t in (0, 59.9, 3599, 3600, 3725)] == [
        "00:00",
        "00:59",
        "59:59",
        "1:00:00",
        "1:02:05",
    ]
    assert band_words(Band(60.0, 90.0, float("inf"))) == "60\xa0s to no end"
