"""What is carried out on the day: everything about a run that is fixed before it begins."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from neckring.live.sheet_steps import (
    SheetProcedure,
    for_other_wearer,
    listed_once,
    sheet_procedure,
)
from neckring.live.uncaught_rules import Uncaught, uncaught_rules
from neckring.procedure.grounding import WEARERS, GroundKit, ground
from neckring.procedure.kit_words import KitWords
from neckring.procedure.model import Condition, State
from neckring.station.console import Calls, Console, Lasts, SecondPerson
from neckring.station.fault import Fault, StationFaults, quoted
from neckring.station.fault import listed as listed_words
from neckring.station.fields import did_you_mean
from neckring.station.loading import LoadedStation
from neckring.station.nodes import Node, path_words
from neckring.station.run import Run

if TYPE_CHECKING:
    from neckring.outing.findings import Plan

TYPED = "command"
"""Stands for a file in a fault of what was typed."""

CONSOLE = ("console",)


@dataclass(frozen=True)
class SheetWearer:
    """One of those who wear a suit on the day.

    Attributes:
        letter: A or B.
        code: Of the wearer.
        run: As planned.
        call_every: Between two symptom calls [s]; None when nobody calls.
    """

    letter: str
    code: str
    run: Run
    call_every: float | None


@dataclass(frozen=True)
class SheetClock:
    """A reserve clock of one wearer.

    Attributes:
        code: As in station.yaml.
        wearer: A or B.
        words: What it counts.
        starts: On the day's kit.
        ends: On the day's kit.
        lasts: How long.
    """

    code: str
    wearer: str
    words: str
    starts: Condition
    ends: Condition
    lasts: Lasts


@dataclass(frozen=True)
class Planned:
    """What a plan says of one wearer's reserves.

    Attributes:
        turn_back: Last time at which the way home may begin [s from first dressing]; None if none.
        battery: How long the battery lasts from when the pack begins [s]; None when it lasts.
    """

    turn_back: float | None
    battery: float | None


@dataclass(frozen=True, eq=False)
class RunSheet:
    """Everything fixed for the day; two sheets are the same when their digests are.

    Attributes:
        station: Its name.
        invented: Whether its data are made up.
        timezone: Of the IANA list.
        rehearsal: Whether suits are simulated.
        wearers: By letter.
        people: Code to part.
        procedures: Of the day by code, in order.
        cards: Emergency procedures by code and wearer in trouble, in the order written.
        second_person: Who checks what two people check.
        calls: Questions and times of symptom calls; None for none.
        clocks: Reserve clocks of every wearer.
        ground: The kit on the day's wearers.
        parts: File to the digest of what is written in it, comments left out.
        planned: What a plan says, by letter; may be empty.
    """

    station: str
    invented: bool
    timezone: str
    rehearsal: bool
    wearers: Mapping[str, SheetWearer]
    people: Mapping[str, str]
    procedures: Mapping[str, SheetProcedure]
    cards: Mapping[tuple[str, str], SheetProcedure]
    second_person: SecondPerson
    calls: Calls | None
    clocks: tuple[SheetClock, ...]
    ground: GroundKit
    parts: Mapping[str, str]
    planned: Mapping[str, Planned] = field(default_factory=dict)

    @cached_property
    def digest(self) -> str:
        """Of all parts and of who wears what."""
        runs = {letter: wearer.run.code for letter, wearer in self.wearers.items()}
        return _digest([self.rehearsal, runs, dict(self.parts)])

    @property
    def letters(self) -> tuple[str, ...]:
        """Of the wearers: A, or A and B."""
        return tuple(self.wearers)

    @cached_property
    def order(self) -> tuple[str, ...]:
        """Codes of the day's procedures."""
        return tuple(self.procedures)

    @property
    def start(self) -> State:
        """How the kit stands before anything is done."""
        return next(iter(self.procedures.values())).listed.procedure.model.start

    @cached_property
    def words(self) -> KitWords:
        """The kit's own words."""
        return KitWords(self.ground)

    @cached_property
    def inside(self) -> Mapping[str, Condition]:
        """When each wearer is in the suit."""
        relief = self.ground.kit.relief
        return {letter: self.ground.condition(relief.inside, letter) for letter in self.letters}

    def changed_since(self, parts: Mapping[str, str]) -> tuple[str, ...]:
        """Files that were written otherwise when these parts were noted, added or taken away."""
        both = {*self.parts, *parts}
        return tuple(sorted(file for file in both if self.parts.get(file) != parts.get(file)))


def run_sheet(
    loaded: LoadedStation,
    run_code: str,
    partner_run_code: str | None = None,
    *,
    rehearsal: bool = False,
    planned: Mapping[str, Planned] | None = None,
    uncaught: Uncaught = uncaught_rules,
) -> RunSheet:
    """Put together what is carried out on the day.

    Args:
        loaded: The station.
        run_code: Of the run of wearer A.
        partner_run_code: Of the run of wearer B; None when A goes alone.
        rehearsal: Whether suits are simulated.
        planned: What plans say of reserves, by letter.
        uncaught: Rules that a slip of a procedure breaks with no check between, worked out from
            it or known by the digest of the files from which it was made.

    Raises:
        StationFaults: No console, no such run, or runs and procedures that do not go together.
    """
    codes = [code for code in (run_code, partner_run_code) if code is not None]
    console = loaded.station.console
    faults = list(_faults(loaded, console, codes))
    if faults or console is None:
        raise StationFaults(faults)
    kit = loaded.kits[loaded.procedures[console.procedures[0]].kit]
    of_day = ground(kit, len(codes))
    runs = dict(zip(WEARERS, (loaded.runs[code] for code in codes), strict=False))
    made = listed_once(loaded.procedures, loaded.kits)
    parts = dict(_parts(loaded, console, runs.values()))

    def on_day(code: str) -> SheetProcedure:
        exact = made(code)
        return sheet_procedure(exact, of_day, uncaught(exact, _made_from(loaded, code, parts)))

    return RunSheet(
        station=loaded.station.name,
        invented=loaded.station.invented,
        timezone=loaded.station.timezone,
        rehearsal=rehearsal,
        wearers={letter: _wearer(letter, run, console.calls) for letter, run in runs.items()},
        people=dict(console.people),
        procedures={code: on_day(code) for code in console.procedures},
        cards=dict(_cards(on_day, console, of_day)),
        second_person=console.second_person,
        calls=console.calls,
        clocks=tuple(_clocks(console, of_day)),
        ground=of_day,
        parts=parts,
        planned=dict(planned or {}),
    )


def planned_reserves(plan: Plan, run: Run) -> Planned:
    """What a plan says of the reserves.

    Args:
        plan: Of the run.
        run: As written.
    """
    on_pack = [
        finding.begins
        for finding, spell in zip(plan.spells, run.outing, strict=False)
        if "pack" in (spell.cooling, spell.air)
    ]
    dead = plan.remaining.battery_dead
    battery = None if dead is None or not on_pack else max(0.0, dead - on_pack[0])
    turn_back = plan.outlook.turn_back if plan.outlook is not None else None
    return Planned(turn_back, battery)


def _cards(
    on_day: Callable[[str], SheetProcedure], console: Console, of_day: GroundKit
) -> Iterator[tuple[tuple[str, str], SheetProcedure]]:
    for code in console.cards:
        card = on_day(code)
        yield (code, "A"), card
        if len(of_day.wearers) > 1:
            yield (code, "B"), for_other_wearer(card, of_day)


def _wearer(letter: str, run: Run, calls: Calls | None) -> SheetWearer:
    every = None
    if calls is not None:
        every = (calls.every or run.hands.call_every).nominal
    return SheetWearer(letter, run.wearer, run, every)


def _clocks(console: Console, of_day: GroundKit) -> Iterator[SheetClock]:
    for clock in console.clocks:
        for letter in of_day.wearers:
            yield SheetClock(
                clock.code,
                letter,
                clock.words,
                of_day.condition(clock.starts, letter),
                of_day.condition(clock.ends, letter),
                clock.lasts,
            )


def _faults(loaded: LoadedStation, console: Console | None, codes: list[str]) -> Iterator[Fault]:
    for code in codes:
        if code not in loaded.runs:
            known = tuple(sorted(loaded.runs))
            accepted = f"the code of a run of this station: {listed_words(known) or 'none yet'}"
            near = did_you_mean(code, known)
            yield Fault(TYPED, 1, 1, "run", quoted(code), accepted, near)
    if console is None:
        accepted = "the key console, with procedures and people: what the console serves"
        yield Fault("station.yaml", 1, 1, "console", "nothing (the key is missing)", accepted)
        return
    runs = [loaded.runs[code] for code in codes if code in loaded.runs]
    yield from _do_not_go_together(loaded, console, runs, len(codes))


def _do_not_go_together(
    loaded: LoadedStation, console: Console, runs: list[Run], count: int
) -> Iterator[Fault]:
    first = loaded.procedures[console.procedures[0]]
    if first.wearers != count:
        read = "one run" if count == 1 else f"{count} runs"
        accepted = f"as many runs as the console's procedures have wearers, {first.wearers}"
        yield Fault(TYPED, 1, 1, "run", read, accepted)
    if len({run.wearer for run in runs}) < len(runs):
        accepted = "two runs of two wearers"
        yield Fault(TYPED, 1, 1, "run", f"wearer {runs[0].wearer} twice", accepted)
    for run in runs:
        kit = loaded.suits[run.suit].kit
        if kit != first.kit:
            accepted = f"a run whose suit has the kit of the console's procedures, {first.kit}"
            yield Fault(TYPED, 1, 1, "run", f"{run.code}, with kit {kit or 'none'}", accepted)
    for place, code in enumerate(console.cards):
        if loaded.procedures[code].wearers > count:
            yield _console_fault(loaded, ("cards", place), f"a card for {count} wearer")


def _console_fault(loaded: LoadedStation, path: tuple[str | int, ...], accepted: str) -> Fault:
    root = next(iter(loaded.trees["station"].values()))
    full = (*CONSOLE, *path)
    node, spot = root.find(full)
    read = quoted(node.text or "") if node is not None else "nothing"
    return Fault(spot.file, spot.line, spot.column, path_words(full), read, accepted)


def _parts(
    loaded: LoadedStation, console: Console, runs: Iterable[Run]
) -> Iterator[tuple[str, str]]:
    """Every file on which the day stands, with the digest of what is written in it."""
    used = {
        "run": {run.code for run in runs},
        "wearer": {run.wearer for run in runs},
        "suit": {run.suit for run in runs},
        "procedure": set(_with_those_before(loaded, (*console.procedures, *console.cards))),
        "kit": {loaded.procedures[console.procedures[0]].kit},
    }
    for kind, files in loaded.trees.items():
        for file, tree in files.items():
            if kind in ("station", "limits") or tree.text_of("code") in used.get(kind, ()):
                yield file, _tree_digest(tree)


def _with_those_before(loaded: LoadedStation, codes: Iterable[str]) -> Iterator[str]:
    for code in codes:
        at: str | None = code
        while at is not None:
            yield at
            at = loaded.procedures[at].after


def _made_from(loaded: LoadedStation, code: str, parts: Mapping[str, str]) -> str:
    """Digest of the files from which a procedure is made exact: it, those before it, its kit."""
    kit = loaded.procedures[code].kit
    wanted = {"procedure": set(_with_those_before(loaded, (code,))), "kit": {kit}}
    return _digest(
        [
            code,
            *(
                (file, parts[file])
                for kind, codes in wanted.items()
                for file, tree in sorted(loaded.trees[kind].items())
                if tree.text_of("code") in codes
            ),
        ]
    )


def _tree_digest(tree: Node) -> str:
    return _digest(tree.data())


def _digest(value: object) -> str:
    text = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
