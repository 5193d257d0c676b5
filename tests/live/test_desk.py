"""The desk: every deed judged, written and counted once, and nothing acknowledged before."""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path

import pytest
from demo_day import LEAD, MEDIC, SECOND, TENDER, Day, demo, kinds, sheet, status
from memory_book import MemoryBook
from tests.station.faulty import Swap, write_demo

from neckring.live.desk import Desk, OtherRunError, SheetChangedError
from neckring.live.entries import BookError, Deed, Kind, Role
from neckring.live.run_records import Done
from neckring.live.run_sheet import run_sheet
from neckring.live.run_state import fold_all
from neckring.procedure.listing import end_of
from neckring.procedure.model import holds
from neckring.station.loading import load_station


def test_the_whole_demo_day_is_carried_through_to_its_end() -> None:
    # Given a run that is open
    day = Day().opened()
    for code in day.sheet.order:
        # When each procedure is carried out by the right people
        day.whole(code)
        # Then the kit stands as the procedure says
        procedure = day.sheet.procedures[code]
        assert day.state.kit == end_of(procedure.listed.procedure)
        assert holds(procedure.ends, day.state.kit)
    for letter in ("A", "B"):
        day.does(MEDIC, Kind.RELEASED, wearer=letter)
    day.does(LEAD, Kind.RUN_CLOSED, reason="all stowed")
    # And nothing was refused, every step stands there once, and the clocks of the way have ended
    counted = kinds(day.book.written)
    steps = sum(len(each.steps) for each in day.sheet.procedures.values())
    assert counted[Kind.STEP_DONE] == steps
    assert day.state.refused == 0
    assert day.state.closed is not None
    assert {key[0] for key in day.state.clocks} == {"turn-back", "battery", "uncooled", "helmet"}
    assert all(clock.ended is not None for clock in day.state.clocks.values())


def test_a_deed_sent_again_is_recorded_once_and_answered_the_same() -> None:
    day = Day().opened().begin("dress")
    first = day.next()
    assert first is not None
    deed = day.deed(TENDER, Kind.STEP_DONE, **day.step_body(first))
    answer, again = day.desk.take(deed), day.desk.take(deed)
    assert (answer.status, again.status) == ("recorded", "known")
    assert answer.number == again.number
    # And a refusal too keeps its key and its words
    refused = day.deed(MEDIC, Kind.STEP_DONE, **day.step_body(first))
    answer, again = day.desk.take(refused), day.desk.take(refused)
    assert (answer.status, again.status) == ("refused", "known")
    assert answer.why == again.why != ""


def test_what_cannot_be_written_is_not_acknowledged_and_not_counted() -> None:
    # Given a full disk
    day = Day().opened().begin("dress")
    before = day.state
    day.book.fails_before = True
    deed = day.deed(TENDER, Kind.HOLD, reason="wait")
    with pytest.raises(BookError):
        day.desk.take(deed)
    assert day.state == before
    # When there is room again, then the same tap counts
    day.book.fails_before = False
    assert day.desk.take(deed).status == "recorded"
    assert day.state.hold is not None


def test_what_was_written_although_it_seemed_to_fail_counts_once() -> None:
    # Given an entry of which nobody knows whether it is on disk
    day = Day().opened().begin("dress")
    day.book.fails_after = True
    deed = day.deed(TENDER, Kind.HOLD, reason="wait")
    with pytest.raises(BookError):
        day.desk.take(deed)
    day.book.fails_after = False
    # When the tap is sent again, then it is known and counted
    assert day.desk.take(deed).status == "known"
    assert day.state.hold is not None
    assert day.state.number == len(day.book.written)


def test_the_next_deed_counts_what_seemed_to_fail_before_it() -> None:
    day = Day().opened().begin("dress")
    day.book.fails_after = True
    with pytest.raises(BookError):
        day.tap(TENDER, Kind.HOLD, reason="wait")
    day.book.fails_after = False
    day.does(MEDIC, Kind.NOTE, words="fine")
    assert day.state.hold is not None
    assert day.state.number == len(day.book.written)


def test_a_desk_that_comes_back_stands_where_it_was_and_says_so() -> None:
    # Given a day half way through the changeover
    day = Day().opened().whole("dress").begin("changeover").upto(40)
    before = day.state
    # When the console comes back 100 s later
    day.hands.pass_time(100.0)
    day.again()
    # Then all is as it was, the book says that it was away, and run time went on
    after = day.state
    assert after.progress == before.progress
    assert after.kit == before.kit
    assert after.restarts == 1
    assert day.book.written[-1].deed.kind is Kind.RESTARTED
    assert day.book.written[-1].deed.body["after"] == before.number
    assert day.desk.clock.run_time() == pytest.approx(before.run_time + 100.0)
    day.upto(60)


def test_files_changed_while_the_run_is_open_are_named(tmp_path: Path) -> None:
    # Given a run that is open, and one file written otherwise since
    day = Day().opened().begin("dress")
    write_demo(tmp_path)
    Swap("procedures/go.yaml", "title: Send out", "title: Send them out")(tmp_path)
    Swap("wearers/W3.yaml", "age: 24 yr", "age: 25 yr")(tmp_path)
    changed = run_sheet(load_station(tmp_path), "floor-survey", "floor-partner")
    # When the console comes back on it, then it does not go on silently
    with pytest.raises(SheetChangedError, match=r"procedures/go\.yaml") as told:
        Desk(day.book, changed, day.hands.sources)
    # And only a file on which the day stands is named
    assert told.value.files == ("procedures/go.yaml",)
    # When somebody says that it goes on, then the book says what was changed
    desk = Desk(day.book, changed, day.hands.sources, goes_on_changed=True)
    assert desk.state.changed == ("procedures/go.yaml",)
    assert desk.state.sheet == changed.digest
    # And the next time it is not new any more
    assert Desk(day.book, changed, day.hands.sources).state.restarts == 2


def test_a_comment_changes_nothing(tmp_path: Path) -> None:
    write_demo(tmp_path)
    file = tmp_path / "procedures" / "go.yaml"
    file.write_text("# looked at\n" + file.read_text(encoding="utf-8"), encoding="utf-8")
    same = run_sheet(load_station(tmp_path), "floor-survey", "floor-partner")
    assert same.digest == sheet().digest


def test_the_book_of_another_run_is_refused() -> None:
    day = Day().opened()
    other = run_sheet(demo(), "floor-partner", "floor-survey")
    with pytest.raises(OtherRunError, match="floor-survey and floor-partner"):
        Desk(day.book, other, day.hands.sources)


def test_many_people_tap_at_once_and_each_tap_stands_there_once() -> None:
    # Given eight tablets, of which each sends every tap twice
    day = Day().opened().begin("dress")
    heard: list[int] = []
    day.desk.listen(lambda entry, _state: heard.append(entry.number))
    deeds = [
        [day.deed(who, Kind.NOTE, words=f"{who} {n} {tablet}") for n in range(20)]
        for tablet, who in enumerate([LEAD, TENDER, SECOND, MEDIC] * 2)
    ]

    def tap(own: list[Deed]) -> None:
        for deed in own:
            day.desk.take(deed)
            day.desk.take(deed)

    threads = [threading.Thread(target=tap, args=(own,)) for own in deeds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    # Then each stands there once, listeners heard all in order, and folding it again is the same
    keys = [entry.deed.key for entry in day.book.written]
    assert len(keys) == len(set(keys)) == 2 + 160
    assert heard == list(range(3, 163))
    assert fold_all(day.sheet, day.book.written) == day.state


def test_a_listener_that_fails_stops_nobody() -> None:
    day = Day().opened()
    heard = []

    def fails(*_: object) -> None:
        raise RuntimeError("gone")

    day.desk.listen(fails)
    day.desk.listen(lambda entry, _state: heard.append(entry.number))
    day.does(LEAD, Kind.NOTE, words="all here")
    assert heard == [2]


def test_a_reading_that_does_not_pass_fails_its_step_in_the_book() -> None:
    # Given the battery's turn
    day = Day().opened().whole("dress").begin("changeover").upto(4)
    step = day.next()
    assert step is not None
    assert step.reads is not None
    # When it shows too little
    deed = day.deed(
        TENDER,
        Kind.STEP_DONE,
        procedure="changeover",
        step=4,
        measured={"value": 15.4, "unit": "V"},
    )
    answer = day.desk.take(deed)
    # Then the tap is refused in words, and the step has failed by the desk's own entry
    assert answer.status == "refused"
    assert "15.4 V is not 16.0 V or more" in answer.why
    assert "Change the battery" in answer.why
    failed = day.book.written[-2]
    assert (failed.deed.kind, failed.deed.actor) == (Kind.STEP_FAILED, "desk")
    assert status(day, 4) is Done.FAILED
    # And sent again nothing more is written; the next, good reading is taken, in another unit
    count = len(day.book.written)
    assert day.desk.take(deed).status == "known"
    assert len(day.book.written) == count
    day.does(
        TENDER,
        Kind.STEP_DONE,
        procedure="changeover",
        step=4,
        measured={"value": "16200", "unit": "mV"},
    )
    assert status(day, 4) is Done.DONE


def test_a_stop_counts_whatever_is_wrong_with_how_it_was_sent() -> None:
    day = Day().opened().begin("dress")
    bad = replace(
        day.deed(TENDER, Kind.STOP, reason=7, wearer="C", more="\x00" * 30_000),
        key="?" * 300,
        device="",
    )
    answer = day.desk.take(bad)
    assert answer.status == "recorded"
    assert day.state.stopped == {"A", "B"}
    assert day.desk.take(bad).status == "known"


def test_a_deed_without_a_proper_key_is_refused_unwritten() -> None:
    day = Day().opened()
    count = len(day.book.written)
    for spoilt in ({"key": ""}, {"key": "a b"}, {"device": "x" * 65}, {"tapped_at": float("nan")}):
        answer = day.desk.take(replace(day.deed(LEAD, Kind.NOTE, words="hm"), **spoilt))  # type: ignore[arg-type]
        assert (answer.status, answer.number) == ("refused", 0)
    assert len(day.book.written) == count


def test_nobody_but_the_desk_writes_what_is_the_desk_s() -> None:
    day = Day().opened()
    for kind, body in (
        (Kind.CALL_MISSED, {"wearer": "A", "call": 1}),
        (Kind.ESTIMATE, {"wearer": "A"}),
        (Kind.RESTARTED, {"after": 1}),
        (Kind.REFUSED, {}),
    ):
        day.refused(LEAD, kind, **body)
    # And a name that does not fit its part is nobody
    posing = replace(day.deed(LEAD, Kind.HOLD), role=Role.MEDIC)
    assert "not a medic" in day.desk.take(posing).why


def test_a_book_in_which_nothing_stands_needs_no_restart() -> None:
    day = Day(book=MemoryBook())
    assert day.state.number == 0
    assert day.refused(LEAD, Kind.PROCEDURE_BEGUN, procedure="dress")
