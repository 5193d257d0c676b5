"""A deed that is told the kit ledger from the command line: by whom, when, and in which words."""

from __future__ import annotations

import datetime
import zoneinfo
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

import click

from neckring.command_parts import (
    FOLDER,
    KEPT,
    load_remembering,
    refuse,
    refuse_code,
    station_option,
)

if TYPE_CHECKING:
    from neckring.ledger.ledger_state import Ledger
    from neckring.ledger.records import Act, Body, Record
    from neckring.station.kit_items import KitItems
    from neckring.station.loading import LoadedStation

Command = TypeVar("Command", bound=Callable[..., Any])

kept_option = click.option(
    "--kept", type=FOLDER, default=None, help="Where the ledger lies [kept/ in the station]."
)


@contextmanager
def told() -> Iterator[None]:
    """Say in words why the ledger cannot be used, or does not take a deed."""
    from neckring.live.entries import BookError
    from neckring.records.ledger_book import LedgerRefusedError

    try:
        yield
    except LedgerRefusedError as refused:
        refuse(f"not recorded: {refused}")
    except BookError as broken:
        refuse(str(broken))


def items_of(station: LoadedStation) -> KitItems:
    """The station's items, or words and the end."""
    if station.kit_items is None:
        refuse(
            "kit_items.yaml: nothing (no such file); accepted: a list of the kit by serial, "
            "see docs/kit_ledger.md"
        )
    return station.kit_items


def deed_options(command: Command) -> Command:
    """The options of everything that is recorded."""
    options = (
        station_option,
        kept_option,
        click.option("--by", required=True, help="Code of who did it."),
        click.option("--at", default=None, help='When, as "2026-11-27 10:05" [now].'),
    )
    for option in reversed(options):
        command = option(command)
    return command


def record(
    given: dict[str, Any], act: Act, body: Callable[[LoadedStation, KitItems], Body]
) -> None:
    """Write a deed, and say so once it is on disk.

    Args:
        given: What `deed_options` gave.
        act: What was done.
        body: Makes the deed's body.
    """
    from neckring.records.ledger_book import ledger_book
    from neckring.records.ledger_words import record_words

    place = given["kept"] or given["folder"] / KEPT
    station = load_remembering(given["folder"], place)
    sheet = items_of(station)
    by = known_person(station, given["by"])
    at = time_of(given["at"], station.station.timezone)
    made = body(station, sheet)
    with told(), ledger_book(place, sheet) as book:
        written = book.take(act, by, made, at)
        against = [*_against(book.state, sheet, written)]
    click.echo(record_words(written))
    for words in against:
        click.echo(f"WARNING: {words}", err=True)


def _against(ledger: Ledger, sheet: KitItems, record: Record) -> Iterator[str]:
    """What speaks against an item that was just counted out; it is out all the same."""
    from neckring.ledger.going import item_reasons
    from neckring.ledger.records import Act

    if record.act is not Act.OUT or not record.text("item"):
        return
    for reason in item_reasons(ledger, sheet, record.text("item"), record.at):
        if reason.weight == "no-go" and not reason.out:
            yield f"{reason.item}, {reason.words}: no-go"


def known_person(station: LoadedStation, code: str) -> str:
    """The code of somebody of the station, or words and the end."""
    from neckring.station.fields import CODE

    console = station.station.console
    known = {
        *(station.people.people if station.people else ()),
        *(console.people if console else ()),
    }
    if known and code not in known:
        refuse_code("person", code, known)
    if not CODE.fullmatch(code):
        refuse(f'--by: read "{code}"; accepted: a code, never a name')
    return code


def time_of(text: str | None, zone: str) -> float | None:
    """A time that was typed, in the station's time zone; None for now."""
    if text is None:
        return None
    try:
        naive = datetime.datetime.strptime(text, "%Y-%m-%d %H:%M")
    except ValueError:
        refuse(f'--at: read "{text}"; accepted: day and clock time, as in "2026-11-27 10:05"')
    return naive.replace(tzinfo=zoneinfo.ZoneInfo(zone)).timestamp()


def quantity_or_exit(field: str, text: str, dimension: str) -> float:
    """A quantity that was typed [SI], or words and the end."""
    from neckring.station.fault import quoted
    from neckring.unit_table import DIMENSIONS
    from neckring.units import QuantityError, accepted_units, parse_quantity

    try:
        found = parse_quantity(text, dimension)
    except QuantityError as refused:
        read = f"{quoted(text)} ({refused.read_as})" if refused.read_as else quoted(text)
        said = f"{DIMENSIONS[dimension].words} (in {accepted_units(dimension)})"
        hint = f"; {refused.hint}" if refused.hint else ""
        refuse(f"{field}: read {read}; accepted: {said}{hint}")
    if found.spread != "exact":
        refuse(f"{field}: read {quoted(text)}; accepted: one value, without a spread")
    return found.nominal
