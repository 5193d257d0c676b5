"""From a tree of nodes to a validated model, or to faults that point into the file."""

from __future__ import annotations

import types
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import Tag, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from neckring.station.fault import Fault, listed, quoted
from neckring.station.fields import Kind, did_you_mean, words_of
from neckring.station.nodes import Node, Spot, Step, path_words
from neckring.station.written import Complaint, Written

MISSING = "nothing (the key is missing)"

Model = TypeVar("Model", bound=Written)


@dataclass(frozen=True)
class Expected:
    """What a place in a file expects: an annotation and what hangs on it."""

    annotation: Any
    metadata: tuple[Any, ...] = ()

    @classmethod
    def of(cls, annotation: Any) -> Expected:  # noqa: ANN401 - an annotation
        """Take an annotation apart."""
        if get_origin(annotation) is Annotated:
            inner, *metadata = get_args(annotation)
            return cls(inner, tuple(metadata))
        return cls(annotation)

    @classmethod
    def of_field(cls, field: FieldInfo) -> Expected:
        """What a model's field expects."""
        return cls(field.annotation, tuple(field.metadata))

    @property
    def kind(self) -> Kind | None:
        """The kind of value, when it is a single value."""
        return next((part for part in self.metadata if isinstance(part, Kind)), None)

    @property
    def model(self) -> type[Written] | None:
        """The group of keys, when it is one."""
        found = self.annotation
        return found if isinstance(found, type) and issubclass(found, Written) else None

    def options(self) -> list[Expected]:
        """The members of a choice, without the choice to leave it out."""
        if get_origin(self.annotation) not in (Union, types.UnionType) or self.kind:
            return []
        return [Expected.of(a) for a in get_args(self.annotation) if a is not type(None)]

    def inside(self, step: str | int) -> Expected:
        """What is expected one step further in.

        Args:
            step: A key, an item's position, or the mark of an option.
        """
        options = self.options()
        if isinstance(step, str) and step.startswith("«"):
            return next(option for option in options if Tag(step) in option.metadata).unmarked()
        if options:
            return options[0].inside(step)
        if self.model is not None:
            return Expected.of_field(fields_by_key(self.model)[str(step)])
        return Expected.of([a for a in get_args(self.annotation) if a is not Ellipsis][-1])

    def unmarked(self) -> Expected:
        """The same without the mark of its option."""
        return Expected.of(self.annotation) if self.kind is None else self

    def words(self) -> str:
        """Say what is accepted."""
        if self.kind is not None:
            return self.kind.accepted(words_of(self.annotation))
        options = self.options()
        if options:
            return options[0].words()
        if self.model is not None:
            return f"a group with the keys {listed(fields_by_key(self.model), 'and')}"
        each = Expected.of([a for a in get_args(self.annotation) if a is not Ellipsis][-1])
        sort = "names" if get_origin(self.annotation) is dict else "a list"
        return f"{sort}, each with {each.words()}"


def fields_by_key(model: type[Written]) -> dict[str, FieldInfo]:
    """The fields of a model by the key people write."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


def validate(
    model: type[Model], root: Node, whole: bool = True
) -> tuple[Model | None, list[Fault]]:
    """Turn a file's tree into its model.

    Args:
        model: What the file should hold.
        root: The file's tree.
        whole: Whether missing keys are faults; not when what it builds on cannot be found.

    Returns:
        The model, or None with the faults.
    """
    try:
        return model.model_validate(root.data()), []
    except ValidationError as error:
        told = error.errors(include_url=False, include_input=False)
        faults = list(_Teller(model, root).faults(told))
        return None, faults if whole else without_missing(faults)


def without_missing(faults: list[Fault]) -> list[Fault]:
    """Leave out that keys are missing which a suit may take from the one it extends."""
    own = ("code", "name")
    return [fault for fault in faults if fault.read != MISSING or fault.field in own]


class _Teller:
    """Turns pydantic's errors about one file into faults."""

    def __init__(self, model: type[Written], root: Node) -> None:
        self.model = Expected(model)
        self.root = root

    def faults(self, errors: list[ErrorDetails]) -> Iterator[Fault]:
        meant = {self._meant(e["loc"]) for e in errors if e["type"] == "extra_forbidden"}
        for error in errors:
            path = path_of(error["loc"])
            # A misspelt key is one fault, not also a missing one.
            if error["type"] != "missing" or path not in meant:
                yield from self._told(error, path)

    def _meant(self, location: tuple[str | int, ...]) -> tuple[Step, ...]:
        near = did_you_mean(str(location[-1]), self._keys_at(location[:-1]))
        return (*path_of(location[:-1]), near.split('"')[1]) if near else ()

    def _told(self, error: ErrorDetails, path: tuple[Step, ...]) -> Iterator[Fault]:
        location, sort = error["loc"], error["type"]
        context = error.get("ctx", {})
        if sort == "extra_forbidden":
            yield self._unknown_key(location, path)
        elif sort == "missing":
            _, spot = self.root.find(path)
            yield self._fault(spot, path, MISSING, self._expected(location).words())
        elif sort == "disagreement":
            yield from (self._disagreement(path, each) for each in context["complaints"])
        elif location and location[-1] == "[key]":
            accepted = self._key_kind(location).accepted()
            spot = self.root.key_spot(path)
            yield self._fault(spot, path, quoted(str(path[-1])), accepted, context.get("hint", ""))
        else:
            accepted = context.get("accepted") or self._expected(location).words()
            read = self._read(path, context.get("read_as", ""))
            node, spot = self.root.find(path)
            if node is not None and context.get("at"):
                spot = node.letter_spot(context["at"])
            yield self._fault(spot, path, read, accepted, context.get("hint", ""))

    def _unknown_key(self, location: tuple[str | int, ...], path: tuple[Step, ...]) -> Fault:
        keys = self._keys_at(location[:-1])
        hint = did_you_mean(str(path[-1]), keys)
        return self._fault(self.root.key_spot(path), path, "an unknown key", listed(keys), hint)

    def _disagreement(self, path: tuple[Step, ...], complaint: Complaint) -> Fault:
        full = (*path, *complaint.keys)
        read = complaint.read or self._read(full, "")
        # Where the key itself is what was read, its place is told, not that of what it holds.
        is_key = bool(full) and complaint.read == quoted(str(full[-1]))
        spot = self.root.key_spot(full) if is_key else self.root.find(full)[1]
        return self._fault(spot, full, read, complaint.accepted, complaint.hint)

    def _expected(self, location: tuple[str | int, ...]) -> Expected:
        expected = self.model
        for step in location:
            expected = expected.inside(step)
        return expected

    def _keys_at(self, location: tuple[str | int, ...]) -> tuple[str, ...]:
        expected = self._expected(location)
        model = expected.model or expected.options()[0].model
        return tuple(fields_by_key(model)) if model else ()

    def _key_kind(self, location: tuple[str | int, ...]) -> Kind:
        mapping = self._expected(location[:-2])
        kind = Expected.of(get_args(mapping.annotation)[0]).kind
        assert kind is not None, "every mapping's keys have a kind"
        return kind

    def _read(self, path: tuple[Step, ...], read_as: str) -> str:
        node, _ = self.root.find(path)
        return read_words(node, read_as)

    def _fault(
        self, spot: Spot, path: tuple[Step, ...], read: str, accepted: str, hint: str = ""
    ) -> Fault:
        return Fault(spot.file, spot.line, spot.column, path_words(path), read, accepted, hint)


def path_of(location: tuple[str | int, ...]) -> tuple[Step, ...]:
    """The path in the file of an error's location: without marks of options and of keys."""
    return tuple(
        step for step in location if isinstance(step, int) or not step.startswith(("«", "[key]"))
    )


def read_words(node: Node | None, read_as: str = "") -> str:
    """Say what was read.

    Args:
        node: The part of the file.
        read_as: What its text was taken for; may be empty.
    """
    if node is None or node.text == "":
        return "nothing"
    if node.text is None:
        empty = "" if node.value else "empty "
        sort = "list" if isinstance(node.value, list) else "group of keys"
        return f"an {empty}{sort}" if empty else f"a {sort}"
    return f"{quoted(node.text)} ({read_as})" if read_as else quoted(node.text)
