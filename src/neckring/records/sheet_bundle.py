"""All sheets of a station: which there are, each under the name of its file."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from neckring import __version__
from neckring.ledger.ledger_state import Ledger
from neckring.live.sheet_steps import (
    SheetProcedure,
    for_other_wearer,
    listed_once,
    sheet_procedure,
)
from neckring.outing.findings import Plan
from neckring.records.proof_words import mark_of
from neckring.records.sheet_brief import brief_of, debrief_of
from neckring.records.sheet_cards import card_of, printed_card
from neckring.records.sheet_count import ANY_RUN, ForRun, count_sheet
from neckring.records.sheet_labels import label_faults, label_sheet
from neckring.records.sheet_press import (
    CannotPrintError,
    Head,
    TooLongError,
    pressed,
    pressed_on_one_page,
)
from neckring.records.sheet_procedures import roles_of, sheet_for
from neckring.records.sheet_serials import Serials, serials_for
from neckring.station.drills import Drill
from neckring.station.fault import Fault, StationFaults, quoted
from neckring.station.loading import LoadedStation
from neckring.station.nodes import Node, path_words

LETTERS_ACCEPTED = "letters of the type that sheets are printed in (DejaVu Sans)"
Printed = tuple[str, bytes]


@dataclass(frozen=True)
class Wanted:
    """What is to be printed.

    Attributes:
        station: Whose sheets.
        plans: Of the runs of the day; none for sheets of no run.
        drills: Of the station.
        date: Of the printing.
        kinds: Some of procedures, cards, brief, count, labels.
        ledger: Where the kit is, as recorded.
    """

    station: LoadedStation
    plans: Sequence[Plan]
    drills: Sequence[Drill]
    date: datetime.date
    kinds: frozenset[str]
    ledger: Ledger = field(default_factory=Ledger)

    @property
    def kits(self) -> tuple[str, ...]:
        """Codes of the kits: of the runs' suits, or all."""
        runs = (self.station.runs[plan.run] for plan in self.plans)
        of_runs = dict.fromkeys(self.station.suits[run.suit].kit for run in runs)
        known = tuple(self.station.kits)
        return tuple(code for code in known if code in of_runs) if self.plans else known


def printed_sheets(wanted: Wanted, tell: Callable[[str], None]) -> tuple[Printed, ...]:
    """Print everything that is wanted; nothing is written to the disk.

    Args:
        wanted: What.
        tell: Hears what is being printed.

    Returns:
        Names of files, with folders, and their PDFs.

    Raises:
        StationFaults: Something that people wrote cannot be printed.
    """
    try:
        return tuple(_printed(wanted, tell))
    except CannotPrintError as refused:
        raise StationFaults(_letter_faults(wanted.station, refused.letters)) from None


def _printed(wanted: Wanted, tell: Callable[[str], None]) -> Iterator[Printed]:
    if wanted.kinds & {"procedures", "cards"}:
        yield from _procedures(wanted, tell)
    if "brief" in wanted.kinds:
        for plan in wanted.plans:
            yield from _briefs(wanted, plan)
    for code in wanted.kits:
        yield from _of_kit(wanted, code)


def _head(wanted: Wanted, marks: str) -> Head:
    sheet = wanted.station.station
    return Head(sheet.name, sheet.invented, "", "", marks, wanted.date.isoformat(), __version__)


def _procedures(wanted: Wanted, tell: Callable[[str], None]) -> Iterator[Printed]:
    station = wanted.station
    made = listed_once(station.procedures, station.kits)
    for code, sheet in station.procedures.items():
        if sheet.kit not in wanted.kits:
            continue
        if "procedures" not in wanted.kinds and not sheet.when:
            continue
        tell(f"printing {code}")
        listed = made(code)
        procedure = sheet_procedure(listed, listed.ground)
        head = _head(wanted, f"{code}, mark {mark_of(listed)}")
        if "procedures" in wanted.kinds:
            for role in roles_of(procedure):
                pdf = pressed("sheet_procedure", sheet_for(procedure, role, head), wanted.date)
                yield f"procedures/{code}-{role}.pdf", pdf
        if "cards" in wanted.kinds and sheet.when:
            yield from _cards(wanted, procedure, head)


def _cards(wanted: Wanted, procedure: SheetProcedure, head: Head) -> Iterator[Printed]:
    """One for each wearer who may be in trouble: nobody changes letters over in an emergency."""
    ground, code = procedure.listed.ground, procedure.code
    if len(ground.wearers) == 1:
        yield f"cards/{code}.pdf", _card(wanted, procedure, head, "")
        return
    for letter, card in (("A", procedure), ("B", for_other_wearer(procedure, ground))):
        yield f"cards/{code}-{letter}.pdf", _card(wanted, card, head, letter)


def _card(wanted: Wanted, procedure: SheetProcedure, head: Head, trouble: str) -> bytes:
    station, sheet = wanted.station, procedure.listed.sheet
    of_runs = {station.runs[plan.run].suit for plan in wanted.plans}
    suits = [
        suit
        for suit in station.suits.values()
        if suit.kit == sheet.kit and (not of_runs or suit.code in of_runs)
    ]
    card = card_of(procedure, head, suits, wanted.drills, wanted.plans, trouble)
    try:
        return printed_card(card, wanted.date)
    except TooLongError:
        tree = _tree(station, "procedure", sheet.code)
        accepted = "words of the first steps that stand on one page with the sign and the rules"
        raise StationFaults([_fault(tree, ("steps",), "too many words", accepted)]) from None


def _briefs(wanted: Wanted, plan: Plan) -> Iterator[Printed]:
    head = _head(wanted, f"{plan.run}, {plan.starts.date().isoformat()}, wearer {plan.wearer}")
    pages = (
        ("brief", "sheet_brief", brief_of(wanted.station, plan, head)),
        ("debrief", "sheet_debrief", debrief_of(wanted.station, plan, head)),
    )
    for name, template, sheet in pages:
        try:
            yield f"{name}-{plan.run}.pdf", pressed_on_one_page(template, sheet, wanted.date)
        except TooLongError:
            tree = _tree(wanted.station, "run", plan.run)
            read = f"{len(wanted.station.runs[plan.run].outing)} spells"
            accepted = f"as many spells, notes and limits as stand on the one page of a {name}"
            raise StationFaults([_fault(tree, ("outing",), read, accepted)]) from None


def _of_kit(wanted: Wanted, code: str) -> Iterator[Printed]:
    kit = wanted.station.kits[code]
    head = _head(wanted, f"kit {code}")
    if "count" in wanted.kinds:
        yield from _counts(wanted, code, head)
    if "labels" in wanted.kinds and (kit.labels or kit.tags):
        faults = list(label_faults(kit, _tree(wanted.station, "kit", code)))
        if faults:
            raise StationFaults(faults)
        yield f"labels-{code}.pdf", pressed("sheet_labels", label_sheet(kit, head), wanted.date)


def _counts(wanted: Wanted, code: str, head: Head) -> Iterator[Printed]:
    """One sheet for each run, whose serials it bears; without a run one for the kit."""
    station, kit = wanted.station, wanted.station.kits[code]
    suits = tuple(suit.code for suit in station.suits.values() if suit.kit == code)
    if not wanted.plans:
        sheet = count_sheet(kit, head, _serials(wanted, suits, "", wanted.date), ANY_RUN)
        yield f"count-{code}.pdf", pressed("sheet_count", sheet, wanted.date)
    for plan in wanted.plans:
        run = station.runs[plan.run]
        if run.suit not in suits:
            continue
        starts = f"{run.date.isoformat()} {run.start.strftime('%H:%M')}"
        sheet = count_sheet(
            kit,
            replace(head, marks=f"{run.code}, kit {code}"),
            _serials(wanted, (run.suit,), run.code, run.date),
            ForRun(run.code, starts, f"{run.wearer}, {run.suit}"),
        )
        yield f"count-{run.code}.pdf", pressed("sheet_count", sheet, wanted.date)


def _serials(wanted: Wanted, suits: tuple[str, ...], run: str, day: datetime.date) -> Serials:
    items = wanted.station.kit_items
    return serials_for(items, wanted.ledger, suits, run, day) if items else Serials()


def without_anything(wanted: Wanted) -> tuple[str, ...]:
    """Kinds of sheets of which there is none, and why."""
    station, kits = wanted.station, wanted.kits
    procedures = [one for one in station.procedures.values() if one.kit in kits]
    found = {
        "procedures": (procedures, "no procedure is written"),
        "cards": ([p for p in procedures if p.when], "no procedure has the key when"),
        "brief": (wanted.plans, "name a RUN, whose plan it is made from"),
        "count": (kits, "no kit is written"),
        "labels": (
            [code for code in kits if station.kits[code].labels or station.kits[code].tags],
            "no kit has the keys labels or tags",
        ),
    }
    return tuple(
        f"{kind}: none; {why}"
        for kind, (some, why) in found.items()
        if kind in wanted.kinds and not some
    )


def _tree(station: LoadedStation, kind: str, code: str) -> Node:
    return next(tree for tree in station.trees[kind].values() if tree.text_of("code") == code)


def _fault(tree: Node, path: tuple[str | int, ...], read: str, accepted: str) -> Fault:
    _, spot = tree.find(path)
    return Fault(spot.file, spot.line, spot.column, path_words(path), read, accepted)


def _letter_faults(station: LoadedStation, letters: str) -> Iterator[Fault]:
    """Where letters stand that cannot be printed."""
    for files in station.trees.values():
        for tree in files.values():
            for path, node in _texts(tree, ()):
                for letter in letters:
                    at = (node.text or "").find(letter)
                    if at >= 0:
                        spot = node.letter_spot(at)
                        read = f"{quoted(letter)} (U+{ord(letter):04X})"
                        where = path_words(path)
                        yield Fault(
                            spot.file, spot.line, spot.column, where, read, LETTERS_ACCEPTED
                        )


def _texts(node: Node, path: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], Node]]:
    if node.text is not None:
        yield path, node
    for place, item in enumerate(node.items):
        yield from _texts(item, (*path, place))
    for key, entry in node.entries.items():
        yield from _texts(entry.node, (*path, key))
