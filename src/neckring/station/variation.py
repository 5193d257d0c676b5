"""What if something else were written? A station with some values replaced, for one run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, TypeVar

from neckring.station.changes import (
    FILE,
    Change,
    needs_keys,
    path_of_change,
    read_changes,
    settled,
    told_at_change,
)
from neckring.station.fault import Fault, StationFaults, listed, quoted
from neckring.station.fields import did_you_mean
from neckring.station.loading import LoadedStation
from neckring.station.nodes import Entry, Node, Step
from neckring.station.references import reference_faults
from neckring.station.run import Run
from neckring.station.site import Station
from neckring.station.suit import Suit
from neckring.station.validation import Expected, validate
from neckring.station.warnings import station_warnings
from neckring.station.wearer import Wearer
from neckring.station.written import Written

Model = TypeVar("Model", bound=Written)


def vary(loaded: LoadedStation, run: str, changes: Sequence[tuple[str, str]]) -> LoadedStation:
    """Read a station as though some values were written otherwise.

    What else follows from the files follows here too: a valve that is set in one spell carries on
    to the next ones. Suit and wearer are replaced before anything in them is.

    Args:
        loaded: The station as it is.
        run: Code of the run that is meant.
        changes: Keys and values as written. A key is `wearer` or `suit`, with a code, or leads to
            one value of the station, suit, wearer or run, as in "station.places.floor.wind" or
            "run.outing.3.speed"; lists count from 1.

    Returns:
        The station with the site, the run, its suit and its wearer as changed, and with the
        warnings of this run. Other runs are as they were and not checked against the changes.

    Raises:
        StationFaults: No such run, a key that leads nowhere, a value that is not accepted, or
            something that contradicts the rest. Each fault's line is the number of its change.
    """
    _refuse_unknown_run(loaded, run)
    if not changes:
        return loaded
    asked, faults = read_changes(changes)
    varied = _Varied(loaded, run)
    for change in asked:
        try:
            varied.write(change)
        except StationFaults as refused:
            faults += refused.faults
    made = varied.read(asked)
    faults += varied.faults or ([] if faults else varied.reference_faults(asked))
    if faults:
        raise StationFaults(faults)
    return varied.with_warnings(made)


def with_value(part: Model, path: tuple[str, ...], value: object) -> Model:
    """Put a value that is already read into a model; nothing is checked, nothing carries on.

    Args:
        part: Any model of a station.
        path: Keys as written or names of fields, codes, and numbers of list items counted from 1:
            ("outing", "3", "speed"). A group that was left out is made when it needs no key.
        value: What should stand there.

    Raises:
        LookupError: The path leads nowhere.
    """
    made: Model = _with_value(part, path, value)
    return made


def _with_value(part: Any, path: tuple[str, ...], value: object) -> Any:  # noqa: ANN401
    if not path:
        return value
    step, rest = path[0], path[1:]
    if isinstance(part, Written):
        name, inner = _inside(part, step, make=bool(rest))
        return part.model_copy(update={name: _with_value(inner, rest, value)})
    if isinstance(part, dict) and step in part:
        return {**part, step: _with_value(part[step], rest, value)}
    if isinstance(part, tuple) and step.isdecimal() and 1 <= int(step) <= len(part):
        at = int(step) - 1
        return (*part[:at], _with_value(part[at], rest, value), *part[at + 1 :])
    raise LookupError(f"nothing called {step!r} in a {type(part).__name__}")


def _inside(part: Written, step: str, make: bool) -> tuple[str, Any]:
    for name, field in type(part).model_fields.items():
        if step in (name, field.alias):
            inner = getattr(part, name)
            group = settled(Expected.of_field(field), None).model
            if inner is None and make and group is not None and not needs_keys(group):
                inner = group()
            return name, inner
    raise LookupError(f"nothing called {step!r} in a {type(part).__name__}")


def _refuse_unknown_run(loaded: LoadedStation, run: str) -> None:
    if run not in loaded.runs:
        known = tuple(sorted(loaded.runs))
        accepted = f"the code of a run of this station: {listed(known) or 'there is none yet'}"
        hint = did_you_mean(run, known)
        raise StationFaults([Fault(FILE, 1, 1, "run", quoted(run), accepted, hint)])


class _Varied:
    """The files of one run, with changes written into them."""

    def __init__(self, loaded: LoadedStation, run: str) -> None:
        self.loaded = loaded
        self.run = run
        self.trees = {kind: dict(files) for kind, files in loaded.trees.items()}
        # The others are not meant: what is wrong with them only now is nobody's fault.
        self.trees["run"] = {self._file("run"): self._node("run")}
        self.changed: set[str] = set()
        self.faults: list[Fault] = []

    def _file(self, kind: str) -> str:
        """The file of a kind that the run uses; "" when it names one that is not there."""
        files = self.trees[kind]
        if kind == "station":
            return next(iter(files))
        code = self.run if kind == "run" else self._node("run").text_of(kind)
        return next((file for file, node in files.items() if node.text_of("code") == code), "")

    def _node(self, kind: str) -> Node:
        return self.trees[kind][self._file(kind)]

    def write(self, change: Change) -> None:
        """Write a change into its file.

        Raises:
            StationFaults: The key leads nowhere.
        """
        file = self._file(change.kind)
        # An unknown suit or wearer is told with the run that names it.
        if file:
            root = self._node(change.kind)
            path = path_of_change(change, root)
            self.trees[change.kind][file] = _rewritten(root, path, change.value)
            self.changed.add(change.kind)

    def read(self, asked: Sequence[Change]) -> LoadedStation:
        """Read the changed files; what is wrong in them goes to `faults`, and is left as it was."""
        loaded, before = self.loaded, self.loaded.runs[self.run]
        run = self._model(Run, "run", before, asked)
        suit = loaded.suits.get(run.suit, loaded.suits[before.suit])
        wearer = loaded.wearers.get(run.wearer, loaded.wearers[before.wearer])
        return replace(
            loaded,
            station=self._model(Station, "station", loaded.station, asked),
            suits={**loaded.suits, suit.code: self._model(Suit, "suit", suit, asked)},
            wearers={**loaded.wearers, wearer.code: self._model(Wearer, "wearer", wearer, asked)},
            runs={**loaded.runs, run.code: run},
            trees={**self.trees, "run": {**loaded.trees["run"], **self.trees["run"]}},
        )

    def _model(self, model: type[Model], kind: str, kept: Model, asked: Sequence[Change]) -> Model:
        if kind not in self.changed:
            return kept
        made, faults = validate(model, self._node(kind))
        self.faults += [told_at_change(fault, kind, asked) for fault in faults]
        return made or kept

    def reference_faults(self, asked: Sequence[Change]) -> list[Fault]:
        """What the files now say wrongly of one another."""
        own = self._file("run")
        return [
            told_at_change(fault, "run" if fault.file == own else "station", asked)
            for fault in reference_faults(self.trees)
        ]

    def with_warnings(self, made: LoadedStation) -> LoadedStation:
        """The same station with the warnings of this run."""
        run = made.runs[self.run]
        suits = {self._file("suit"): made.suits[run.suit]}
        found = station_warnings(
            made.station, made.limits, suits, {self._file("run"): run}, self.trees
        )
        return replace(made, warnings=tuple(found))


def _rewritten(node: Node, path: tuple[Step, ...], value: str) -> Node:
    """The tree with another text at a path; groups on the way are made."""
    if not path:
        return Node(node.spot, value)
    step, rest = path[0], path[1:]
    inner = _rewritten(node.child(step) or Node(node.spot, {}), rest, value)
    if isinstance(step, int):
        items = list(node.items)
        items[step] = inner
        return Node(node.spot, items)
    known = node.entries.get(step)
    return Node(node.spot, {**node.entries, step: Entry(known.key if known else node.spot, inner)})
