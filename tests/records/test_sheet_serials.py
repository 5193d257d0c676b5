"""Serials and bags on the count sheet: what goes on a run, and what the ledger says of it."""

from __future__ import annotations

import datetime

from printed import DAY, HEAD, bare, demo, needs, pages_of, text_of

from neckring.ledger.ledger_state import Ledger, fold
from neckring.ledger.records import Act, Record
from neckring.records.sheet_count import ForRun, count_sheet
from neckring.records.sheet_press import pressed
from neckring.records.sheet_serials import Serials, serials_for

RUN = "floor-survey"


def after(*deeds: tuple[Act, dict[str, str | int]]) -> Ledger:
    return fold(Record(n, 0.0, "T1", act, body) for n, (act, body) in enumerate(deeds, 1))


def of_run(ledger: Ledger, run: str = RUN, suits: tuple[str, ...] = ("dipper",)) -> Serials:
    items = demo().kit_items
    assert items is not None
    return serials_for(items, ledger, suits, run, DAY)


def notes(serials: Serials) -> dict[str, str]:
    rows = [row for kit in serials.kits for row in kit.rows] + [*serials.besides]
    return {f"{row.serial} {row.words}": row.note for row in rows if row.note}


def test_every_serial_and_bag_of_the_runs_kit_is_counted_and_no_others() -> None:
    # given the demo's list, whose kit A is one of the suit dipper
    (kit,) = of_run(Ledger()).kits
    items = demo().kit_items
    assert items is not None
    # then its serials are there, each once, and the pieces of its bag with how many there are
    serials = [row.serial for row in kit.rows if row.serial in items.items]
    assert serials == list(items.items_of("KA"))
    pieces = {row.words: row.pieces for row in kit.rows if row.serial == "bag-a"}
    assert pieces == {"Pins": "12", "Plugs": "4", "Straps": "6", "Covers": "4", "Gloves": "2"}
    # and what is for all is apart
    assert {row.serial for row in of_run(Ledger()).besides} == {"bench"}


def test_what_the_ledger_says_against_something_stands_beside_it() -> None:
    ledger = after(
        (Act.OUT, {"item": "FA1", "run": RUN}),
        (Act.OUT, {"item": "PA", "run": "yard-walk"}),
        (Act.OUT, {"item": "HA"}),
        (Act.LOST, {"item": "HA"}),
        (Act.OUT, {"bag": "bag-a", "piece": "pins", "count": 3, "run": RUN}),
        (Act.OUT, {"bag": "bag-a", "piece": "plugs", "count": 1, "run": "yard-walk"}),
        (Act.OUT, {"item": "LN01", "run": RUN}),
    )
    found = of_run(ledger)
    assert notes(found) == {
        "FA1 Helmet fan": "counted out already, entry 1",
        "PA Water pump": "STILL OUT for yard-walk, entry 2",
        "HA Helmet": "given up as lost, entry 4",
        "bag-a Pins": "3 counted out already",
        "bag-a Plugs": "1 STILL OUT for yard-walk; 4 belong in the bag",
        "LN01 Comfort liner": "counted out already, entry 7",
    }
    assert found.stands_on == "as they were after entry 7 of the ledger"


def test_of_several_kits_the_one_that_was_begun_goes() -> None:
    both = of_run(Ledger(), suits=("dipper", "wagtail"))
    assert [kit.title for kit in both.kits] == ["KA: kit A", "KB: kit B"]
    ledger = after((Act.OUT, {"item": "FB2", "run": RUN}))
    (begun,) = of_run(ledger, suits=("dipper", "wagtail")).kits
    assert begun.title == "KB: kit B"


def test_what_may_no_longer_be_used_says_so() -> None:
    items = demo().kit_items
    assert items is not None
    ledger = after((Act.OUT, {"item": "LN02", "run": RUN}))
    late = serials_for(items, ledger, ("dipper",), RUN, datetime.date(2027, 7, 1))
    assert "only until 2027-06-30" in notes(late)["LN02 Comfort liner"]


@needs("pdftotext")
def test_the_printed_sheet_bears_each_serial_once_and_the_run() -> None:
    # given a sheet for a run
    serials = of_run(after((Act.OUT, {"item": "PA", "run": "yard-walk"})))
    run = ForRun(RUN, "2026-11-28 10:00", "W2, dipper")
    sheet = count_sheet(demo().kits["dipper"], HEAD, serials, run)
    pdf = pressed("sheet_count", sheet, DAY)
    text = text_of(pdf)
    # then run, day, wearer, serials and notes can be read from it
    for words in (*vars(run).values(), "STILL OUT for yard-walk, entry 1", "after entry 1"):
        assert bare(words) in text
    items = demo().kit_items
    assert items is not None
    for serial in items.items_of("KA"):
        assert text.count(f"1{serial}") == 1, serial
    # and a helmet that is counted by serial is not counted a second time as a thing
    assert [row.words for row in sheet.of_wearer if "elmet" in row.words] == []
    assert pages_of(pdf) <= 2
