"""Who may what: pairing, guessing, foreign pages, foreign names, text that is no text."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest
from demo_console import PEOPLE, DemoConsole, KeptHere, Tablet, busy
from demo_day import LEAD, MEDIC, TENDER, TRAINER
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import escape
from starlette.routing import Route

from neckring.live.deciding import WHO
from neckring.live.entries import HIDDEN, Kind, Role
from neckring.web.app import make_app
from neckring.web.console_parts import Kept
from neckring.web.gate import HEADERS, host_is_ours, is_here
from neckring.web.pairing import (
    FREE_TRIES,
    FREE_TRIES_IN_ALL,
    LONGEST_WAIT,
    LONGEST_WAIT_HERE,
    PARTS,
    Session,
    Throttle,
    digest_of,
    new_pins,
    part_of,
)
from neckring.web.request_reading import ASKED
from neckring.web.session_file import SessionFile

AWAY = "192.0.2.7"  # RFC 5737: addresses for documentation
OPEN_TO_ALL = {
    "/",
    "/pair",
    "/alarms",
    "/api/v1/clock",
    "/api/v1/openapi.json",
    "/api/v1/pair",
}
PAYLOADS = (
    "<script>alert(1)</script>",
    "\"'><img src=x onerror=alert(1)>",
    "</textarea></title><svg/onload=alert(1)>",
    "{{ 12345 * 7 }}{% raw %}",
)
PAGES = {
    Role.LEAD: ("/lead", "/lead/otherwise", "/replay", "/tender", "/tender?lane=A", "/medic"),
    Role.TENDER: ("/tender", "/tender?lane=B"),
    Role.MEDIC: ("/medic",),
    Role.TRAINER: ("/trainer",),
    Role.WALL: ("/wall",),
}


@pytest.fixture(scope="module")
def console() -> DemoConsole:
    return busy()


@pytest.fixture(scope="module")
def tablets(console: DemoConsole) -> dict[Role, Tablet]:
    return {role: console.paired(role) for role in PARTS}


def routes(console: DemoConsole) -> list[tuple[str, str]]:
    found = [route for route in console.app.routes if isinstance(route, Route)]
    return [(method, route.path) for route in found for method in sorted(route.methods or ())]


def test_nothing_is_read_or_written_without_a_session(console: DemoConsole) -> None:
    # Given a browser that was never paired
    client = console.client()
    before = console.day.state.number
    asked = 0
    for method, path in routes(console):
        if path in OPEN_TO_ALL:
            continue
        asked += 1
        # When it asks for anything
        form = {"guard": "x", "kind": "stop"}
        if path.startswith("/api/"):
            answer = client.request(method, path, json={})
        else:
            answer = client.request(method, path, data=form if method == "POST" else None)
        # Then it is sent to be paired, or refused
        sent_to_pair = answer.status_code == 303 and answer.headers["location"] == "/pair"
        assert answer.status_code == 401 or sent_to_pair, f"{method} {path}: {answer.status_code}"
    assert asked > 15
    assert console.day.state.number == before


@pytest.mark.parametrize("role", PARTS)
@pytest.mark.parametrize("kind", ASKED)
def test_every_kind_by_every_part(
    console: DemoConsole, tablets: dict[Role, Tablet], kind: Kind, role: Role
) -> None:
    # When a device of each part asks for each kind, with a body that is none
    before = console.day.state
    answer = tablets[role].tap(kind, key=f"matrix-{kind}-{role}".replace(" ", "-"), nothing=1)
    if role is Role.WALL:
        assert answer.status_code == 403
        assert console.day.state.number == before.number
        return
    # Then the desk refuses it, for its part where it is another's; a stop alone is never refused
    told = answer.json()
    assert answer.status_code == 200
    if kind is Kind.STOP:
        assert told["status"] == "recorded"
    else:
        assert told["status"] == "refused"
        assert told["why"]
    assert console.day.state.number == before.number + 1


@pytest.mark.parametrize(
    ("kind", "role"),
    [(kind, role) for kind in ASKED for role in PARTS if role not in WHO.get(kind, PARTS)],
)
def test_a_good_body_by_the_wrong_part_is_refused_too(
    console: DemoConsole, tablets: dict[Role, Tablet], kind: Kind, role: Role
) -> None:
    bodies: dict[Kind, dict[str, object]] = {
        Kind.RUN_CLOSED: {"reason": "over"},
        Kind.RESUME: {"reason": "ready"},
        Kind.RELEASED: {"wearer": "A"},
        Kind.NOTE: {"words": "seen"},
        Kind.FAULT_BEGUN: {"wearer": "A", "fault": "fans", "share": 1.0},
        Kind.STEP_DONE: {"procedure": "go", "step": 4},
        Kind.ALARM_ACKNOWLEDGED: {"alarm": "slack/B/pump"},
    }
    body = bodies.get(kind, {})
    answer = tablets[role].tap(kind, key=f"wrong-{kind}-{role}".replace(" ", "-"), **body)
    assert answer.status_code == 403 or answer.json()["status"] == "refused"
    if kind in bodies and role is not Role.WALL:
        assert f"not for the {role.value}" in answer.json()["why"]


def test_who_it_is_comes_from_the_session_and_from_nowhere_else(
    console: DemoConsole, tablets: dict[Role, Tablet]
) -> None:
    tender = tablets[Role.TENDER]
    sent = {"key": "as-lead", "kind": "note", "body": {"words": "x"}, "actor": LEAD, "role": "lead"}
    headers = {"x-neckring-guard": tender.guard}
    assert tender.client.post("/api/v1/deeds", json=sent, headers=headers).status_code == 422
    told = tender.tap(Kind.NOTE, key="as-tender", words="x").json()
    deed = console.day.book.by_key["as-tender"].deed
    assert told["status"] == "recorded"
    assert (deed.actor, deed.role, deed.device) == ("T1", Role.TENDER, tender.device)


@pytest.mark.parametrize("path", ["/lead/network", "/lead/pins", "/lead/source", "/lead/unpair"])
def test_what_is_the_leads_is_the_leads_alone(
    console: DemoConsole, tablets: dict[Role, Tablet], path: str
) -> None:
    pins, number = dict(console.admission.pins), console.day.state.number
    for role in set(PARTS) - {Role.LEAD}:
        answer = tablets[role].form(path, open="yes", source="x", device=tablets[role].device)
        assert answer.status_code == 403
    bare = tablets[Role.LEAD].client.post(path, data={"open": "yes"})
    assert bare.status_code == 403, "a write without the page's guard"
    assert dict(console.admission.pins) == pins
    assert console.day.state.number == number
    assert not console.admission.opening.opened


@pytest.mark.parametrize("path", ["/lead", "/medic", "/trainer", "/tender"])
def test_a_page_is_shown_to_its_own_part(tablets: dict[Role, Tablet], path: str) -> None:
    for role, tablet in tablets.items():
        allowed = path.strip("/") == role.value or (role is Role.LEAD and path != "/trainer")
        assert (tablet.client.get(path).status_code == 200) is allowed


def test_a_write_by_a_page_needs_the_guard_and_a_programs_does_not(
    console: DemoConsole, tablets: dict[Role, Tablet]
) -> None:
    lead = tablets[Role.LEAD]
    sent = {"key": "guarded", "kind": "note", "body": {"words": "x"}}
    assert lead.client.post("/api/v1/deeds", json=sent).status_code == 403
    other = {"x-neckring-guard": tablets[Role.MEDIC].guard}
    assert lead.client.post("/api/v1/deeds", json=sent, headers=other).status_code == 403
    program = console.program(Role.MEDIC)
    assert console.client().post("/api/v1/deeds", json=sent, headers=program).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"origin": "https://127.0.0.1:8000"},
        {"origin": "http://127.0.0.1:8001"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "none"},
    ],
)
def test_a_foreign_page_can_write_nothing(
    console: DemoConsole, tablets: dict[Role, Tablet], headers: dict[str, str]
) -> None:
    lead, number = tablets[Role.LEAD], console.day.state.number
    whole = {"x-neckring-guard": lead.guard, **headers}
    sent = {"key": "foreign", "kind": "stop", "body": {}}
    assert lead.client.post("/api/v1/deeds", json=sent, headers=whole).status_code == 403
    form = {"guard": lead.guard, "kind": "stop"}
    assert lead.client.post("/do", data=form, headers=headers).status_code == 403
    assert console.day.state.number == number


@pytest.mark.parametrize(
    ("host", "ours"),
    [
        ("127.0.0.1:8000", True),
        ("localhost", True),
        ("192.168.1.20:8000", True),
        ("[::1]:8000", True),
        ("bay-laptop.local:8000", True),
        ("attacker.example", False),
        ("127.0.0.1.attacker.example", False),
        ("localhost.attacker.example", False),
        ("127.0.0.1@attacker.example", False),
        ("", False),
        ("bay-laptop.local\r\nx: y", False),
    ],
)
def test_a_foreign_name_that_leads_here_is_not_answered(host: str, ours: bool) -> None:
    assert host_is_ours(host, frozenset({"bay-laptop.local"})) is ours


def test_a_rebound_name_gets_nothing_at_all(console: DemoConsole) -> None:
    for path in ("/pair", "/api/v1/clock", "/static/console.js"):
        assert console.client(host="attacker.example:8000").get(path).status_code == 421


@pytest.mark.parametrize(
    ("address", "here"),
    [
        ("127.0.0.1", True),
        ("127.3.4.5", True),
        ("::1", True),
        ("::ffff:127.0.0.1", True),
        (AWAY, False),
        ("::ffff:192.0.2.7", False),
        ("", False),
        ("testclient", False),
    ],
)
def test_this_machine_is_told_from_others(address: str, here: bool) -> None:
    assert is_here(address) is here


def test_the_network_is_let_in_only_once_the_lead_opens_it_and_that_is_recorded() -> None:
    # Given a console that was just started
    console = DemoConsole()
    lead = console.paired(Role.LEAD)
    away = console.client(AWAY)
    assert away.get("/pair").status_code == 403
    assert away.post("/api/v1/pair", json={"pin": "1"}).status_code == 403
    # When the lead opens it
    assert lead.form("/lead/network", open="yes").status_code == 303
    # Then others are answered, it stands in the book, and a restart does not undo it
    assert away.get("/pair").status_code == 200
    notes = [e for e in console.day.book.written if e.deed.kind is Kind.NOTE]
    assert notes[-1].deed.body["words"] == "Console opened to the local network"
    assert notes[-1].deed.actor == LEAD
    console.app = make_app(console.parts, console.settings)
    assert console.client(AWAY).get("/pair").status_code == 200
    # And closed, nobody else is
    again = console.paired(Role.LEAD)
    assert again.form("/lead/network", open="no").status_code == 303
    assert console.client(AWAY).get("/pair").status_code == 403


# Guessing


def test_a_pin_is_six_figures_another_for_each_part_and_new_each_time() -> None:
    first, second = new_pins(), new_pins()
    assert set(first) == set(PARTS)
    assert len(set(first.values())) == len(PARTS)
    assert all(re.fullmatch(r"\d{6}", pin) for pin in first.values())
    assert first != second
    assert [part_of(first[role], first) for role in PARTS] == list(PARTS)
    assert part_of("", first) is None
    assert part_of("\N{ARABIC-INDIC DIGIT ONE}" * 6, first) is None


@given(st.lists(st.floats(0.0, 30.0), min_size=1, max_size=200))
def test_however_somebody_guesses_an_hour_brings_few_tries(pauses: list[float]) -> None:
    # Given somebody on the network who tries whenever they like
    throttle, now, tried = Throttle(), 0.0, 0
    for pause in pauses:
        now += pause
        if throttle.wait(AWAY, False, now) == 0.0:
            tried += 1
            throttle.failed(AWAY, False, now)
    # Then the waits double: tries are few whatever the pauses, some 20 in the first hour
    assert tried <= FREE_TRIES + 1 + max(0.0, now).__ceil__().bit_length()


@given(st.integers(1, 400))
def test_many_addresses_together_are_slowed_too_and_the_lead_never_is(count: int) -> None:
    throttle = Throttle()
    for number in range(count):
        throttle.failed(f"192.0.2.{number % 250}", False, float(number) / 100)
    now = count / 100
    fresh = throttle.wait("198.51.100.1", False, now)
    assert (fresh > 0.0) is (count >= FREE_TRIES_IN_ALL)
    assert throttle.wait("127.0.0.1", True, now) == 0.0
    for _ in range(count):
        throttle.failed("127.0.0.1", True, now)
    assert throttle.wait("127.0.0.1", True, now) <= LONGEST_WAIT_HERE + 1e-6


def test_guessing_over_http_is_answered_with_a_wait_even_for_the_right_pin() -> None:
    console = DemoConsole()
    console.admission.opening.opened = True
    away = console.client(AWAY)
    right = console.admission.pins[Role.LEAD]
    wrong = next(f"{n:06d}" for n in range(9) if f"{n:06d}" not in console.admission.pins.values())
    # When somebody has had all free tries
    statuses = [
        away.post("/api/v1/pair", json={"pin": wrong, "person": LEAD}).status_code
        for _ in range(FREE_TRIES)
    ]
    assert set(statuses) == {403}
    # Then even the right PIN must wait, and is told how long
    held = away.post("/api/v1/pair", json={"pin": right, "person": LEAD})
    assert held.status_code == 429
    assert held.headers["content-type"] == "application/problem+json"
    assert 1 <= int(held.headers["retry-after"]) <= LONGEST_WAIT + 1
    # And the wait grows with each wrong try
    console.day.hands.pass_time(float(held.headers["retry-after"]))
    assert away.post("/api/v1/pair", json={"pin": wrong}).status_code == 403
    longer = away.post("/api/v1/pair", json={"pin": wrong})
    assert int(longer.headers["retry-after"]) > int(held.headers["retry-after"])
    # And the lead at the machine is let in all the time
    here = console.client().post("/api/v1/pair", json={"pin": right, "person": LEAD})
    assert here.status_code == 201
    # And nothing of the PIN stands in the book
    assert right not in repr(console.day.book.written)


def test_a_pin_pairs_only_people_of_its_part(console: DemoConsole) -> None:
    client, pins = console.client(), console.admission.pins
    for person in (LEAD, "", "nobody", "T9"):
        answer = client.post("/api/v1/pair", json={"pin": pins[Role.TENDER], "person": person})
        assert answer.status_code == 403
        assert answer.json()["field"] == "person"


# Sessions


def test_a_session_is_drawn_kept_as_a_digest_and_told_to_no_script(console: DemoConsole) -> None:
    answer = console.client().post(
        "/api/v1/pair", json={"pin": console.admission.pins[Role.MEDIC], "person": MEDIC}
    )
    cookie = answer.headers["set-cookie"]
    token = re.match(r"neckring_session=([^;]+)", cookie)
    assert token
    assert len(token.group(1)) >= 43, "256 bits in base64"
    assert "httponly" in cookie.lower()
    assert "samesite=strict" in cookie.lower()
    assert token.group(1) not in answer.text
    assert token.group(1) not in repr(console.day.book.written)
    kept = console.keeper.kept
    assert token.group(1) not in repr(kept)
    assert digest_of(token.group(1)) in [session.digest for session in kept.sessions]


def test_an_unpaired_device_reads_and_writes_nothing_any_more() -> None:
    console = DemoConsole()
    lead, tender = console.paired(Role.LEAD), console.paired(Role.TENDER)
    assert tender.client.get("/tender").status_code == 200
    # When the lead unpairs it, asked twice
    page = lead.client.get(f"/lead/unpair?device={tender.device}")
    assert "Yes, do it" in page.text
    assert lead.form("/lead/unpair", device=tender.device).status_code == 303
    # Then nothing of it counts, and the book knows
    assert tender.tap(Kind.STOP).status_code == 401
    assert tender.client.get("/api/v1/state").status_code == 401
    assert tender.client.get("/tender").headers["location"] == "/pair"
    assert tender.device not in console.day.state.paired
    assert console.day.book.written[-1].deed.kind is Kind.UNPAIRED


def test_a_restart_unpairs_nobody_but_those_whom_the_book_does_not_know() -> None:
    console = DemoConsole()
    tender = console.paired(Role.TENDER)
    stranger = Session(digest_of("guessed"), "tablet-x", Role.LEAD, LEAD)
    kept = console.keeper.kept
    console.keeper.kept = replace(kept, sessions=(*kept.sessions, stranger))
    app = make_app(console.parts, console.settings)
    tender.client.app = console.app = app
    tender.client._transport.app = app  # the same tablet, another process
    assert tender.tap(Kind.NOTE, words="still here").status_code == 200
    asked = console.client()
    asked.cookies.set("neckring_session", "guessed")
    assert asked.get("/api/v1/state").status_code == 401


class KilledError(BaseException):
    """Stands for the end of the process: nothing after it is done."""


@pytest.mark.parametrize("killed", ["keeping", "recording", "replying"])
def test_a_console_killed_while_it_pairs_leaves_no_device_that_counts(killed: str) -> None:
    # Given a console that is killed before a session is kept, before it is recorded, or before
    # the tablet is told
    console = DemoConsole()
    lead = console.paired(Role.LEAD)
    save, take = console.keeper.save, console.day.desk.take

    def dies_at(kind: str, works):
        def called(*given):
            if killed == kind:
                # Nothing that is done on the way out reaches the disk
                console.keeper.save = lambda kept: None
                raise KilledError
            return works(*given)

        return called

    console.keeper.save = dies_at("keeping", save)
    console.day.desk.take = dies_at("recording", take)
    with suppress(KilledError):
        console.admission._admit(Role.TENDER, TENDER)
    console.keeper.save, console.day.desk.take = save, take
    # When it comes back
    console.app = make_app(console.parts, console.settings)
    lead.client._transport.app = console.app
    # Then who was paired before still is, and whatever was half paired cannot act
    devices = {session.device for session in console.admission.sessions}
    assert lead.device in devices
    assert set(console.day.state.paired) == devices, "the book and the console agree"
    page = lead.client.get("/lead").text
    if killed == "replying":
        # Nobody was told its token; the lead is told that it is not heard from, and unpairs it
        (ghost,) = devices - {lead.device}
        assert "not heard from since the console began" in page
        assert lead.form("/lead/unpair", device=ghost).status_code == 303
    assert set(console.day.state.paired) == {lead.device}


def test_a_device_whose_session_was_lost_is_taken_out_and_the_lead_is_told() -> None:
    # Given two devices in the book, of which one session was not kept
    console = DemoConsole()
    lead, tender = console.paired(Role.LEAD), console.paired(Role.TENDER)
    still = tuple(s for s in console.keeper.kept.sessions if s.device == lead.device)
    console.keeper.kept = replace(console.keeper.kept, sessions=still)
    # When the console comes back
    console.app = make_app(console.parts, console.settings)
    for tablet in (lead, tender):
        tablet.client._transport.app = console.app
    # Then it is out, in the book too, no silent tablet for ever, and the lead reads it
    assert set(console.day.state.paired) == {lead.device}
    assert console.day.book.written[-1].deed.kind is Kind.UNPAIRED
    page = lead.client.get("/lead").text
    assert f"Pair again:</strong> tender {TENDER} ({tender.device})" in page
    assert tender.tap(Kind.STOP).status_code == 401
    # And a console whose book cannot be written begins all the same.
    console.paired(Role.MEDIC)
    console.keeper.kept = replace(console.keeper.kept, sessions=still)
    console.day.book.fails_before = True
    console.app = make_app(console.parts, console.settings)
    assert {session.device for session in console.admission.sessions} == {lead.device}
    console.day.book.fails_before = False


def test_devices_are_kept_in_a_file_that_nobody_can_act_by(tmp_path: Path) -> None:
    path = tmp_path / "sessions.json"
    session = Session(digest_of("secret"), "tablet-1", Role.LEAD, LEAD)
    kept = Kept((session,), {"radio": digest_of("other")}, opened=True)
    SessionFile(path).save(kept)
    assert SessionFile(path).load() == kept
    assert "secret" not in path.read_text()
    assert path.stat().st_mode & 0o077 == 0, "for its owner alone"
    for broken in ("", "{", "[]", '{"sessions": 1}', '{"sessions": [{}], "sources": {}}', "null"):
        path.write_text(broken)
        assert SessionFile(path).load() == Kept()
    assert SessionFile(tmp_path / "none.json").load() == Kept()


def test_so_many_devices_and_no_more() -> None:
    console = DemoConsole()
    for _ in range(console.settings.most_sessions):
        console.paired(Role.WALL)
    sent = {"pin": console.admission.pins[Role.WALL]}
    assert console.client().post("/api/v1/pair", json=sent).status_code == 409


# What is sent back


def test_every_answer_carries_the_headers_that_hold_a_browser_back(
    console: DemoConsole, tablets: dict[Role, Tablet]
) -> None:
    client = tablets[Role.LEAD].client
    for path in ("/lead", "/nowhere", "/api/v1/state", "/static/console.js", "/pair", "/api/none"):
        headers = client.get(path).headers
        for name, value in HEADERS.items():
            assert headers[name] == value, f"{path}: {name}"
    policy = HEADERS["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert "no-store" in client.get("/lead").headers["cache-control"]


@pytest.mark.parametrize("role", PARTS)
def test_no_page_holds_a_script_or_a_style_of_its_own(
    tablets: dict[Role, Tablet], role: Role
) -> None:
    for path in (*PAGES[role], "/alarms", "/pair"):
        text = tablets[role].client.get(path).text
        assert re.findall(r"<script(?![^>]*\ssrc=)", text) == []
        assert re.findall(r"<style|\sstyle=|\son\w+=|javascript:", text) == []
        assert re.findall(r"(?:src|href|action)=\"(?:https?:)?//", text) == []


@pytest.mark.parametrize("payload", PAYLOADS)
def test_free_text_is_text_on_every_page(payload: str) -> None:
    # Given a run in which somebody wrote markup wherever words can be written
    console = DemoConsole()
    day = console.day
    day.begin("dress")
    tablets = {role: console.paired(role) for role in PARTS}
    lead, medic = tablets[Role.LEAD], tablets[Role.MEDIC]
    step = {"procedure": "dress", "step": 1}
    taken = [
        lead.tap(Kind.NOTE, words=payload),
        lead.tap(Kind.STEP_FAILED, what=payload, **step),
        medic.tap(Kind.SYMPTOM, wearer="A", words=payload),
        medic.tap(Kind.CALL_ANSWERED, wearer="A", call=1, answers={"How do you feel?": payload}),
        lead.tap(Kind.HOLD, reason=payload),
        lead.tap(Kind.NOTE, key="refused-one", words=payload, unknown=payload),
        medic.tap(Kind.STOP, reason=payload),
    ]
    assert [answer.status_code for answer in taken] == [200] * len(taken)
    assert [answer.json()["status"] for answer in taken].count("refused") == 1
    source = lead.form("/lead/source", source=payload[:60])
    # Then no page holds it as markup, and none computes it; some show it
    pages = [tablets[role].client.get(path).text for role in PAGES for path in PAGES[role]]
    seen = escape(payload)
    for text in (*pages, source.text):
        assert payload not in text or payload == seen
        assert "86415" not in text
    assert sum(str(seen) in text for text in pages) >= 3


@pytest.mark.parametrize(
    "nasty", ["/lead\r\nSet-Cookie: a=b", "//elsewhere.example", "https://elsewhere.example", ""]
)
def test_nobody_is_sent_elsewhere_and_no_header_is_written_by_a_form(
    tablets: dict[Role, Tablet], nasty: str
) -> None:
    sent = {"kind": "note", "at": nasty, "back": nasty, "body.words": "x"}
    answer = tablets[Role.LEAD].form("/do", **sent)
    assert answer.status_code == 303
    assert re.fullmatch(r"/lead\?entry=\d+", answer.headers["location"])
    assert "set-cookie" not in answer.headers


def test_too_long_is_refused_told_or_not(console: DemoConsole, tablets: dict[Role, Tablet]) -> None:
    lead = tablets[Role.LEAD]
    headers = {"x-neckring-guard": lead.guard, "content-type": "application/json"}
    long = b"{" + b" " * console.settings.most_body + b"}"
    assert lead.client.post("/api/v1/deeds", content=long, headers=headers).status_code == 413
    pieces = (long[at : at + 1000] for at in range(0, len(long), 1000))
    assert lead.client.post("/api/v1/deeds", content=pieces, headers=headers).status_code == 413
    for told in ("-1", "1e3", "\u0661", "9" * 30):
        answer = lead.client.post(
            "/api/v1/deeds", content=b"{}", headers={**headers, "content-length": told.encode()}
        )
        assert answer.status_code in (400, 413)


# What the trainer breaks


def test_nobody_but_the_trainer_sees_what_the_trainer_breaks() -> None:
    console = DemoConsole()
    tablets = {role: console.paired(role) for role in PARTS}
    trainer = tablets[Role.TRAINER]
    begun = trainer.tap(Kind.FAULT_BEGUN, wearer="A", fault="main_kinked", share=0.5)
    refused = trainer.tap(Kind.FAULT_BEGUN, wearer="A", fault="pump_weak", share=7)
    assert begun.json()["status"] == "recorded"
    assert refused.json()["status"] == "refused"

    def seen_by(role: Role) -> str:
        client = tablets[role].client
        texts = [client.get(path).text for path in PAGES[role]]
        api = [client.get(f"/api/v1/{name}").text for name in ("state", "entries")]
        return "".join((*texts, *api))

    for role in set(PARTS) - {Role.TRAINER}:
        for word in ("main_kinked", "pump_weak", *(kind.value for kind in HIDDEN)):
            assert word not in seen_by(role), f"{word} by {role}"
    assert "main_kinked" in seen_by(Role.TRAINER)
    # Once the run is closed everybody may know
    console.day.does(LEAD, Kind.RUN_CLOSED, reason="over", accepts=True)
    assert "main_kinked" in tablets[Role.LEAD].client.get("/api/v1/entries").text
    assert PEOPLE[Role.TRAINER] == TRAINER


def test_a_keeper_that_cannot_write_keeps_nobody_from_unpairing_a_device() -> None:
    class Full(KeptHere):
        def save(self, kept: Kept) -> None:
            raise OSError("no space left")

    console = DemoConsole(keeper=Full())
    lead, tender = console.paired(Role.LEAD), console.paired(Role.TENDER)
    assert lead.form("/lead/unpair", device=tender.device).status_code == 303
    assert tender.tap(Kind.NOTE, words="x").status_code == 401
