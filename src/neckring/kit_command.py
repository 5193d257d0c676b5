"""`neckring kit`: what is where in which state, and every deed that changes it."""

from __future__ import annotations

import sys
import time
import zoneinfo
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from neckring.command_parts import (
    EXIT_NOT_GO,
    KEPT,
    load_remembering,
    refuse,
    refuse_code,
    station_option,
)
from neckring.kit_deed import (
    Command,
    deed_options,
    items_of,
    kept_option,
    quantity_or_exit,
    record,
    told,
)

if TYPE_CHECKING:
    from neckring.ledger.records import Body
    from neckring.station.kit_items import KitItems
    from neckring.station.loading import LoadedStation


@click.group("kit", invoke_without_command=True)
@click.pass_context
@station_option
@kept_option
@click.option("--kit", "chosen", default=None, help="Only this kit.")
@click.option("--run", default=None, help="Only kits for this run, judged at its start.")
@click.option("--json", "as_json", is_flag=True, help="Print the state as JSON.")
@click.option("--strict", is_flag=True, help="Exit with status 1 unless every kit is a go.")
def kit(
    context: click.Context,
    folder: Path,
    kept: Path | None,
    chosen: str | None,
    run: str | None,
    as_json: bool,
    strict: bool,
) -> None:
    """Go or no-go of each kit with the reasons, open faults, what is out, what came again.

    The verbs below record what is done; each entry is chained to the one before and never changed.
    """
    if context.invoked_subcommand is not None:
        return
    from neckring.ledger.going import kit_state
    from neckring.records.ledger_standing import read_standing
    from neckring.records.ledger_summary import ledger_as_json_text, ledger_lines

    place = kept or folder / KEPT
    station = load_remembering(folder, place)
    sheet = items_of(station)
    if chosen is not None and chosen not in sheet.kits:
        refuse_code("kit", chosen, sheet.kits)
    if run is not None and run not in station.runs:
        refuse_code("run", run, station.runs)
    kits = _chosen_kits(station, sheet, chosen, run)
    with told():
        standing = read_standing(place)
    now = max(time.time(), _start_of(station, run))
    states = [kit_state(standing.ledger, sheet, one, now, run or "") for one in kits]
    _tell_of_the_day(station, run)
    if standing.warning:
        click.echo(standing.warning, err=True)
    if as_json:
        click.echo(ledger_as_json_text(standing, sheet, states, now))
    else:
        zone = zoneinfo.ZoneInfo(station.station.timezone)
        head = " (invented data)" if station.station.invented else ""
        click.echo(f"{station.station.name}: kit{f' for {run}' if run else ''}{head}")
        plain = not sys.stdout.isatty()
        click.echo("\n".join(ledger_lines(standing, sheet, states, now, zone, plain)))
    if strict and (standing.doubt or any(state.verdict != "go" for state in states)):
        sys.exit(EXIT_NOT_GO)


@kit.command("verify")
@station_option
@kept_option
@click.option(
    "--accept", is_flag=True, help="Take a ledger that lacks entries as it is from now on."
)
def verify(folder: Path, kept: Path | None, accept: bool) -> None:
    """Read the whole ledger, every entry held against the one before.

    What is remembered beside it for quick answers is held against it too, and made anew. Status 1
    when entries are missing or exchanged that were there before, 2 when the chain is broken.
    """
    from neckring.records.ledger_standing import verify_wholly
    from neckring.records.ledger_words import verified_words

    with told():
        standing = verify_wholly(kept or folder / KEPT, accept)
    click.echo("\n".join(verified_words(standing, accept)))
    if standing.changed or (standing.doubt and not accept):
        sys.exit(EXIT_NOT_GO)


def _chosen_kits(
    station: LoadedStation, sheet: KitItems, chosen: str | None, run: str | None
) -> tuple[str, ...]:
    """The kits that are asked for: one, those of a run's suit, or all."""
    if run is None:
        return (chosen,) if chosen else tuple(sheet.kits)
    suit = station.runs[run].suit
    kits = tuple(code for code, one in sheet.kits.items() if one.suit == suit)
    if not kits or (chosen and chosen not in kits):
        there = ", ".join(kits) or f"none; kit_items.yaml has no kit with suit: {suit}"
        refuse(f'--run: read "{run}", in suit {suit}; accepted kits of this suit: {there}')
    return (chosen,) if chosen else kits


def _start_of(station: LoadedStation, run: str | None) -> float:
    """When a run starts, seconds since 1970; 0 for no run."""
    if run is None:
        return 0.0
    zone = zoneinfo.ZoneInfo(station.station.timezone)
    return station.runs[run].begins.replace(tzinfo=zone).timestamp()


def _tell_of_the_day(station: LoadedStation, run: str | None) -> None:
    """Say what `check` warns of in a run's file: another run that wants the same suit, and more."""
    file = next(
        (file for file, tree in station.trees["run"].items() if tree.text_of("code") == run), None
    )
    for warning in station.warnings:
        if run is not None and warning.file == file:
            click.echo(f"WARNING: {warning}", err=True)


def _thing(sheet: KitItems, thing: str, piece: str | None, count: int | None) -> dict[str, Any]:
    """An item by serial, or so many pieces of a bag."""
    if piece is None and thing not in sheet.bags:
        return {"item": thing}
    if piece is None or count is None:
        refuse(f"{thing} is a bag: say which piece and how many, as in: {thing} pins 3")
    if thing in sheet.items:
        refuse(f"{thing} is one item with a serial: leave the piece and the number away")
    return {"bag": thing, "piece": piece, "count": count}


def _moving(name: str, help_line: str) -> Callable[[Command], click.Command]:
    """What the verbs have in common that move items or pieces."""

    def wrap(function: Command) -> click.Command:
        wrapped: Any = deed_options(function)
        wrapped = click.option("--run", default=None, help="Code of the run.")(wrapped)
        wrapped = click.argument("count", required=False, type=click.IntRange(1, 9999))(wrapped)
        wrapped = click.argument("piece", required=False)(wrapped)
        wrapped = click.argument("thing")(wrapped)
        made: click.Command = kit.command(name, help=help_line)(wrapped)
        return made

    return wrap


def _moved(act_name: str, given: dict[str, Any], **more: str | None) -> None:
    from neckring.ledger.records import Act

    def body(station: LoadedStation, sheet: KitItems) -> Body:
        run = given["run"]
        if run is not None and run not in station.runs:
            refuse_code("run", run, station.runs)
        said = {"run": run, **more}
        kept: dict[str, str] = {key: value for key, value in said.items() if value}
        thing = _thing(sheet, given["thing"], given["piece"], given["count"])
        return {**thing, **kept}

    record(given, Act(act_name), body)


@_moving("out", "Count THING out: a serial, or a bag with PIECE and COUNT.")
@click.option("--to", default=None, help="Code of who has it.")
def out(to: str | None, **given: Any) -> None:  # noqa: ANN401 - what click gives
    """Count something out."""
    _moved("out", given, to=to)


@_moving("in", "Count THING back in: a serial, or a bag with PIECE and COUNT.")
def back_in(**given: Any) -> None:  # noqa: ANN401 - what click gives
    """Count something in."""
    _moved("in", given)


@_moving("lost", "Give THING up that is out and will not come back.")
@click.option("--words", required=True, help="Where it was last seen.")
def lost(words: str, **given: Any) -> None:  # noqa: ANN401 - what click gives
    """Give something up."""
    _moved("lost", given, words=words)


@kit.command("stocked")
@click.argument("bag")
@click.argument("piece")
@click.argument("count", type=click.IntRange(1, 9999))
@click.option("--words", required=True, help="Found where, or new from where.")
@deed_options
def stocked(bag: str, piece: str, count: int, words: str, **given: Any) -> None:  # noqa: ANN401
    """Put COUNT of PIECE into BAG: found again, or new."""
    from neckring.ledger.records import Act

    body: Body = {"bag": bag, "piece": piece, "count": count, "words": words}
    record(given, Act.STOCKED, lambda _station, _sheet: body)


@kit.command("fault")
@click.argument("item")
@click.argument("what")
@click.option("--words", default="", help="What was seen.")
@deed_options
def fault(item: str, what: str, words: str, **given: Any) -> None:  # noqa: ANN401
    """Tell a fault of ITEM: WHAT is one of its part's faults, or other (with --words)."""
    from neckring.ledger.records import Act

    def body(_station: LoadedStation, sheet: KitItems) -> Body:
        known = sheet.items.get(item)
        part = known.part if known else ""
        severity = sheet.parts[part].severity_of(what) if part else ""
        return {"item": item, "part": part, "fault": what, "severity": severity, "words": words}

    record(given, Act.FAULT, body)


def _about_fault(act_name: str, number: int, words: str, given: dict[str, Any]) -> None:
    from neckring.ledger.records import Act

    def body(station: LoadedStation, _sheet: KitItems) -> Body:
        if act_name == Act.ACCEPTED:
            _refuse_unless_lead(station, given["by"])
        return {"fault": number, "words": words}

    record(given, Act(act_name), body)


def _refuse_unless_lead(station: LoadedStation, by: str) -> None:
    """Only a lead of the station's console accepts a fault; without a console nobody is known."""
    console = station.station.console
    leads = [code for code, part in console.people.items() if part == "lead"] if console else []
    if leads and by not in leads:
        refuse(f'--by: read "{by}"; accepted: the lead, who alone accepts a fault: {leads[0]}')


@kit.command("mended")
@click.argument("number", type=click.IntRange(1))
@click.option("--words", required=True, help="What was done.")
@deed_options
def mended(number: int, words: str, **given: Any) -> None:  # noqa: ANN401
    """Say that the fault with entry NUMBER is mended."""
    _about_fault("mended", number, words, given)


@kit.command("accept")
@click.argument("number", type=click.IntRange(1))
@click.option("--words", required=True, help="Why it may fly so.")
@deed_options
def accept(number: int, words: str, **given: Any) -> None:  # noqa: ANN401
    """Let the lead accept the fault with entry NUMBER."""
    _about_fault("accepted", number, words, given)


@kit.command("check")
@click.argument("item")
@click.argument("what")
@click.argument("value")
@deed_options
def check(item: str, what: str, value: str, **given: Any) -> None:  # noqa: ANN401
    """Record that check WHAT of ITEM read VALUE, as in "192 L/min"."""
    from neckring.ledger.records import Act

    def body(_station: LoadedStation, sheet: KitItems) -> Body:
        known = sheet.items.get(item)
        asked: dict[str, str | float] = {"item": item, "check": what}
        asked["part"] = known.part if known else ""
        if what not in sheet.checks:
            return asked
        rule = sheet.checks[what].reads
        measured = quantity_or_exit("VALUE", value, rule.dimension)
        passed = rule.passes(measured)
        click.echo(f"{value}: {'passes' if passed else 'does NOT pass'}, {rule.text}")
        asked |= {"value": measured, "text": value, "rule": rule.text, "passed": passed}
        return asked | {"severity": sheet.checks[what].severity}

    record(given, Act.CHECK, body)


@kit.command("cycle")
@click.argument("item")
@click.option("--charge", default=None, help='What a battery gave from full to empty: "4.6 Ah".')
@click.option("--voltage", default=None, help='Its mean voltage meanwhile: "14.8 V".')
@deed_options
def cycle(item: str, charge: str | None, voltage: str | None, **given: Any) -> None:  # noqa: ANN401
    """Record a full cycle of the battery ITEM."""
    from neckring.ledger.records import Act

    body: dict[str, str | float] = {"item": item}
    if charge is not None:
        body["charge"] = quantity_or_exit("--charge", charge, "charge")
    if voltage is not None:
        body["voltage"] = quantity_or_exit("--voltage", voltage, "voltage")
    record(given, Act.CYCLE, lambda _station, _sheet: body)


@kit.command("dried")
@click.argument("item")
@deed_options
def dried(item: str, **given: Any) -> None:  # noqa: ANN401
    """Say that ITEM is dry: by touch, not by the clock."""
    from neckring.ledger.records import Act

    record(given, Act.DRIED, lambda _station, _sheet: {"item": item})


@kit.command("cleaned")
@click.argument("item")
@deed_options
def cleaned(item: str, **given: Any) -> None:  # noqa: ANN401
    """Say that ITEM is dry and clean."""
    from neckring.ledger.records import Act

    record(given, Act.CLEANED, lambda _station, _sheet: {"item": item})
