"""A snapshot beside the ledger: quick, never another answer, never a source of truth."""

from __future__ import annotations

import json
import os
import sqlite3
import tempfile
from collections.abc import Sequence
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tests.ledger.shelf import HOUR, Shelf, sheet
from tests.station.faulty import write_demo

from neckring.kit_command import kit
from neckring.ledger.going import kit_state
from neckring.ledger.ledger_data import data_of, ledger_from
from neckring.ledger.ledger_state import Ledger, fold
from neckring.ledger.records import Act, Record
from neckring.ledger.repeats import repeats
from neckring.live import chain
from neckring.live.entries import BookError, Deed, Head, Kind, Role, Stamp
from neckring.live.sqlite_book import SqliteStore
from neckring.records import ledger_snapshot
from neckring.records.ledger_book import ledger_book
from neckring.records.ledger_entries import CHAIN, FILE, read_records
from neckring.records.ledger_snapshot import read_snapshot
from neckring.records.ledger_standing import Standing, read_standing, verify_wholly
from neckring.records.ledger_words import outstanding

EXAMPLES = 400 if os.environ.get("NECKRING_SOAK") else 10
VERIFIED = 5_000.0
FLOW = 100.0 / 60_000.0
"""[m3/s]; 100 L/min."""
ITEM = st.sampled_from(["F1", "F2", "G1", "B1", "L1"])
RUN = st.sampled_from(["", "R1", "R2"])
DEEDS = st.one_of(
    st.tuples(
        st.sampled_from([Act.OUT, Act.IN, Act.LOST, Act.DRIED, Act.CLEANED]),
        st.fixed_dictionaries({"item": ITEM, "run": RUN}),
    ),
    st.tuples(
        st.sampled_from([Act.OUT, Act.IN, Act.LOST, Act.STOCKED]),
        st.fixed_dictionaries(
            {"bag": st.just("red"), "piece": st.sampled_from(["pins", "plugs"]),
             "count": st.integers(1, 4), "run": RUN}
        ),
    ),
    st.tuples(
        st.just(Act.FAULT),
        st.fixed_dictionaries(
            {"item": st.sampled_from(["F1", "F2", "F3"]), "part": st.just("fan"),
             "fault": st.sampled_from(["slow", "noise"]), "severity": st.just("lead decides"),
             "words": st.text(max_size=5)}
        ),
    ),
    st.tuples(
        st.just(Act.CHECK),
        st.fixed_dictionaries(
            {"item": st.just("F1"), "part": st.just("fan"), "check": st.just("flow"),
             "value": st.floats(0.5 * FLOW, 1.5 * FLOW), "passed": st.booleans(),
             "severity": st.just("grounds")}
        ),
    ),
    st.tuples(
        st.sampled_from([Act.MENDED, Act.ACCEPTED]),
        st.fixed_dictionaries({"fault": st.integers(1, 8), "words": st.just("done")}),
    ),
    st.tuples(
        st.just(Act.CYCLE),
        st.fixed_dictionaries({"item": st.just("B1"), "charge": st.floats(3e4, 4e4)}),
    ),
)  # fmt: skip


def history_of(deeds: Sequence[tuple[Act, dict[str, Any]]]) -> list[Record]:
    """Those of the deeds that can be."""
    shelf = Shelf()
    for act, body in deeds:
        shelf.take(act, **body)
    return shelf.records


HISTORIES = (
    st.lists(DEEDS, min_size=5, max_size=40).map(history_of).filter(lambda some: len(some) > 2)
)


def written(kept: Path, records: Sequence[Record], head: Head | None = None) -> Head:
    """Records put behind those of a ledger on disk, with one sync."""
    store = SqliteStore(kept / FILE, CHAIN)
    store.open()
    store.begin()
    head = head or chain.empty(CHAIN)
    for record in records:
        told = {"act": record.act.value, "at": record.at, "told": dict(record.body)}
        deed = Deed(f"k{record.number}", Kind.NOTE, record.by, Role.DESK, "kit", told)
        row = chain.next_row(head, deed, Stamp(record.at, record.at, 0.0))
        store.insert(row)
        head = Head(CHAIN, row.number, row.digest)
    store.commit()
    store.abandon()
    return head


def with_a_snapshot(kept: Path, records: Sequence[Record], at: int) -> Head:
    """A ledger of records, and beside it the snapshot of its first ones."""
    head = written(kept, records[:at])
    assert read_standing(kept, lambda: VERIFIED).whole
    return written(kept, records[at:], head)


def tampered(kept: Path, statement: str, *values: object) -> None:
    """Do to a ledger what its triggers would not let anybody do."""
    with closing(sqlite3.connect(kept / FILE)) as raw, raw:
        for trigger in ("entry_stays", "entry_is_kept", "entry_follows"):
            raw.execute(f"DROP TRIGGER {trigger}")
        raw.execute(statement, values)


def answers(state: Ledger) -> list[object]:
    """Everything that is ever asked of a state."""
    items, now = sheet(), Shelf().now + HOUR
    kits = [kit_state(state, items, code, now) for code in items.kits]
    still = [one.record.number for one in state.faults.values() if one.open]
    return [kits, repeats(state, items, now), still, outstanding(state)]


def same(standing: Standing, records: Sequence[Record]) -> bool:
    """Whether a state, and all it answers, are those of a fold over records."""
    expected = fold(records)
    return standing.ledger == expected and answers(standing.ledger) == answers(expected)


@settings(max_examples=4 * EXAMPLES, deadline=None)
@given(HISTORIES)
def test_a_state_as_data_and_back_is_the_same_state(records) -> None:
    state = fold(records)
    again = ledger_from(json.loads(json.dumps(data_of(state))))
    assert again == state
    assert answers(again) == answers(state)
    # and it goes on as the same: a fault that is mended is the fault of its item too
    more = Record(len(records) + 1, records[-1].at, "T1", Act.OUT, {"item": "F3"})
    state.take(more)
    again.take(more)
    assert data_of(again) == data_of(state)


@settings(max_examples=EXAMPLES, deadline=None)
@given(HISTORIES, st.data())
def test_with_a_snapshot_the_answer_is_that_of_all_entries(records, data) -> None:
    # given a ledger with a snapshot of some of its entries
    at = data.draw(st.integers(1, len(records)))
    with tempfile.TemporaryDirectory() as name:
        kept = Path(name)
        head = with_a_snapshot(kept, records, at)
        # when it is asked, then the snapshot is used, and nothing differs
        standing = read_standing(kept)
        assert (standing.before, standing.verified_at) == (at, VERIFIED)
        assert standing.head == head
        assert standing.doubt == ""
        assert same(standing, records)
        # and the whole chain says the same
        assert same(verify_wholly(kept), records)


@settings(max_examples=EXAMPLES, deadline=None)
@given(HISTORIES, st.data())
def test_what_was_changed_is_refused_behind_the_snapshot_and_found_before_it(records, data) -> None:
    at = data.draw(st.integers(1, len(records)))
    number = data.draw(st.integers(1, len(records)))
    column, change = data.draw(
        st.sampled_from(
            [("text", "replace(text, 'T1', 'T2')"), ("digest", f"'{'0' * 64}'"),
             ("previous", f"'{'1' * 64}'"), ("key", "'another'")]
        )
    )  # fmt: skip
    with tempfile.TemporaryDirectory() as name:
        kept = Path(name)
        with_a_snapshot(kept, records, at)
        # given an entry that somebody changed
        tampered(kept, f"UPDATE entry SET {column} = {change} WHERE number = ?", number)
        if number >= at:
            # then at the snapshot's entry or behind it no answer is given
            with pytest.raises(BookError):
                read_standing(kept)
        else:
            # and before it the answer is still that of what was verified
            assert same(read_standing(kept), records)
        # and whoever reads all, or writes, finds it
        with pytest.raises(BookError, match="entry"):
            verify_wholly(kept)
        with pytest.raises(BookError, match="entry"), ledger_book(kept, sheet()):
            pass


@settings(max_examples=EXAMPLES, deadline=None)
@given(HISTORIES, st.data())
def test_entries_that_were_cut_off_are_missed(records, data) -> None:
    at = data.draw(st.integers(1, len(records)))
    left = data.draw(st.integers(0, len(records)))
    with tempfile.TemporaryDirectory() as name:
        kept = Path(name)
        with_a_snapshot(kept, records, at)
        tampered(kept, "DELETE FROM entry WHERE number > ?", left)
        # then what is left is told, and that it was more
        for _ in range(2):
            standing = read_standing(kept)
            assert same(standing, records[:left])
            assert bool(standing.doubt) is (left < at)
        if left >= at:
            return
        assert f"ends with entry {left}; it had {at} entries" in standing.doubt
        # and nothing is recorded until somebody has accepted it
        with pytest.raises(BookError, match="verify --accept"), ledger_book(kept, sheet()):
            pass
        assert verify_wholly(kept).doubt
        assert verify_wholly(kept, accept=True).doubt
        assert read_standing(kept).doubt == ""
        assert same(read_standing(kept), records[:left])


def test_a_ledger_that_is_gone_is_missed_and_not_begun_anew(tmp_path) -> None:
    with ledger_book(tmp_path, sheet(), lambda: 100.0) as book:
        book.take(Act.OUT, "T1", {"item": "F1"})
    for file in tmp_path.glob(f"{FILE}*"):
        file.unlink()
    assert "the ledger is gone; it had 1 entries" in read_standing(tmp_path).doubt
    with pytest.raises(BookError, match="gone"), ledger_book(tmp_path, sheet()):
        pass
    assert not (tmp_path / FILE).exists()
    verify_wholly(tmp_path, accept=True)
    with ledger_book(tmp_path, sheet(), lambda: 100.0) as book:
        assert book.take(Act.OUT, "T1", {"item": "F1"}).number == 1


def test_another_ledger_in_its_place_is_noticed(tmp_path) -> None:
    # given a ledger, and one of the same length that was written from the beginning, chain and all
    records = [
        Record(n + 1, 0.0, "T1", act, {"item": "F1"}) for n, act in enumerate([Act.OUT, Act.IN])
    ]
    with_a_snapshot(tmp_path, records, 2)
    for file in tmp_path.glob(f"{FILE}*"):
        file.unlink()
    written(tmp_path, [Record(one.number, one.at, "T2", one.act, one.body) for one in records])
    standing = read_standing(tmp_path)
    assert standing.whole
    assert "what stands as entry 2 is not what stood there before" in standing.doubt


@settings(max_examples=2 * EXAMPLES, deadline=None)
@given(st.data())
def test_a_spoilt_snapshot_costs_time_and_changes_no_answer(data) -> None:
    records = [
        Record(1, 0.0, "T1", Act.OUT, {"item": "F1"}),
        Record(2, 0.0, "T1", Act.FAULT, {"item": "F1", "part": "fan", "fault": "slow"}),
        Record(3, 0.0, "T1", Act.IN, {"item": "F1"}),
    ]
    with tempfile.TemporaryDirectory() as name:
        kept = Path(name)
        with_a_snapshot(kept, records, 3)
        path = kept / ledger_snapshot.FILE
        good = path.read_bytes()
        spoilt = data.draw(
            st.one_of(
                st.integers(0, len(good) - 1).map(lambda cut: good[:cut]),
                st.tuples(st.integers(0, len(good) - 1), st.integers(0, 255)).map(
                    lambda one: good[: one[0]] + bytes([one[1]]) + good[one[0] + 1 :]
                ),
                st.binary(max_size=40),
                st.just(b"[" * 100_000),
            )
        )
        path.write_bytes(spoilt)
        assume(spoilt != good)
        standing = read_standing(kept)
        assert same(standing, records)
        # then all was read, unless only the last line's end was spoilt; and nobody is alarmed
        assert standing.whole or spoilt in (good[:-1], good[:-1] + spoilt[-1:])
        assert standing.doubt == ""


def test_a_snapshot_of_another_make_is_made_anew_and_its_head_still_counts(
    tmp_path, monkeypatch
) -> None:
    # given a snapshot that another version made
    records = [Record(1, 0.0, "T1", Act.OUT, {"item": "F1"})]
    with monkeypatch.context() as older:
        older.setattr(ledger_snapshot, "make", lambda: "0.0.9")
        with_a_snapshot(tmp_path, records, 1)
    kept = (tmp_path / ledger_snapshot.FILE).read_bytes()
    # then all is read once, and the next question is quick again
    assert read_snapshot(tmp_path).state is None
    assert read_standing(tmp_path).whole
    assert read_standing(tmp_path).before == 1
    # and even so it tells that entries are missing
    (tmp_path / ledger_snapshot.FILE).write_bytes(kept)
    tampered(tmp_path, "DELETE FROM entry WHERE number > ?", 0)
    assert "it had 1 entries" in read_standing(tmp_path).doubt


def test_a_snapshot_changed_on_purpose_is_found_by_whole_verification(tmp_path) -> None:
    # given somebody who knows how a snapshot is made, and makes FA1 look as if it were in
    records = [Record(1, 0.0, "T1", Act.OUT, {"item": "F1"})]
    with_a_snapshot(tmp_path, records, 1)
    path = tmp_path / ledger_snapshot.FILE
    first, text = path.read_text().split("\n")[:2]
    told = json.loads(first)
    del told["check"]
    state = json.loads(text)
    state["items"]["F1"][0][0] = None
    text = json.dumps(state, separators=(",", ":"))
    told["state"] = sha256(text.encode()).hexdigest()
    plain = json.dumps(told, separators=(",", ":"))
    told["check"] = sha256(plain.encode()).hexdigest()
    forged = json.dumps(told, separators=(",", ":")) + "\n" + text + "\n"
    path.write_text(forged)
    assert read_standing(tmp_path).ledger.item("F1").out is None
    # then a deed is judged on the entries all the same
    with ledger_book(tmp_path, sheet(), lambda: 100.0) as book:
        assert book.state.item("F1").out is not None
    # and reading all finds it, and mends it
    path.unlink()
    with ledger_book(tmp_path, sheet(), lambda: 100.0):
        pass
    path.write_text(forged)
    assert verify_wholly(tmp_path).changed
    assert not verify_wholly(tmp_path).changed
    assert read_standing(tmp_path).ledger.item("F1").out is not None


@pytest.mark.parametrize(("snapshot_of", "entries_read"), [(0, 6), (4, 2), (6, 0)])
def test_no_call_reads_an_entry_twice(tmp_path, monkeypatch, snapshot_of, entries_read) -> None:
    # given a ledger of six entries, and a count of how often one is held against the one before
    acts = [Act.OUT, Act.IN] * 3
    records = [Record(n + 1, 0.0, "T1", act, {"item": "F1"}) for n, act in enumerate(acts)]
    if snapshot_of:
        with_a_snapshot(tmp_path, records, snapshot_of)
    else:
        written(tmp_path, records)
    read: list[int] = []
    whole = chain.following

    def counted(row: chain.Row, head: Head) -> object:
        read.append(row.number)
        return whole(row, head)

    monkeypatch.setattr(chain, "following", counted)
    monkeypatch.setattr("neckring.live.book_writer.following", counted)
    # then a question reads what lies behind the snapshot, and a deed everything, each once
    read_standing(tmp_path)
    assert len(read) == entries_read
    read.clear()
    with ledger_book(tmp_path, sheet(), lambda: 100.0) as book:
        book.take(Act.OUT, "T1", {"item": "F1"})
    assert read == [1, 2, 3, 4, 5, 6]
    # and leaves a snapshot of all of it
    read.clear()
    assert read_standing(tmp_path).before == 7
    assert read == []


@pytest.fixture
def station(tmp_path: Path) -> Path:
    write_demo(tmp_path)
    return tmp_path


def typed(station: Path, *words: str) -> tuple[int, str]:
    found = CliRunner().invoke(kit, [*words, "--station", str(station)])
    return found.exit_code, " ".join(found.output.split())


def test_an_answer_says_what_it_stands_on(station) -> None:
    assert "Stands on all 0 entries, each verified now." in typed(station)[1]
    typed(station, "out", "FA1", "--by", "T1")
    assert "Stands on 1 entries, all verified 20" in typed(station)[1]
    told = json.loads(CliRunner().invoke(kit, ["--json", "--station", str(station)]).output)
    assert told["verified"]["earlier_up_to"] == 1
    assert not told["verified"]["whole_chain"]
    (station / "kept" / ledger_snapshot.FILE).unlink()
    assert "Stands on all 1 entries, each verified now." in typed(station)[1]


def test_verifying_tells_the_head_and_what_is_missing(station) -> None:
    for words in (("out", "FA1"), ("in", "FA1"), ("out", "FA2")):
        typed(station, *words, "--by", "T1")
    status, said = typed(station, "verify")
    assert status == 0
    assert said.startswith("3 entries, each follows the one before: Station kit-ledger, 3 entries")
    # when two entries are cut off
    tampered(station / "kept", "DELETE FROM entry WHERE number > ?", 1)
    # then a question warns, a deed is refused, and verifying says how to go on
    assert "WARNING" in typed(station)[1]
    assert "it had 3 entries before" in typed(station)[1]
    assert typed(station, "--strict")[0] == 1
    status, said = typed(station, "out", "FA2", "--by", "T1")
    assert status == 2
    assert "not recorded" in said
    assert len(list(read_records(station / "kept"))) == 1
    status, said = typed(station, "verify")
    assert status == 1
    assert "MISSING OR EXCHANGED" in said
    assert typed(station, "verify", "--accept")[0] == 0
    assert typed(station, "out", "FA2", "--by", "T1")[0] == 0


def test_a_broken_chain_is_status_2_with_the_place(station) -> None:
    for words in (("out", "FA1"), ("in", "FA1")):
        typed(station, *words, "--by", "T1")
    tampered(
        station / "kept", "UPDATE entry SET text = replace(text, 'T1', 'T2') WHERE number = ?", 1
    )
    assert typed(station)[0] == 0
    status, said = typed(station, "verify")
    assert status == 2
    assert "entry 1: its text, or its digest, is not what was written" in said


def test_a_folder_that_takes_nothing_still_answers(station) -> None:
    typed(station, "out", "FA1", "--by", "T1")
    path = station / "kept" / ledger_snapshot.FILE
    path.unlink()
    path.mkdir()
    assert "Stands on all 1 entries" in typed(station)[1]
