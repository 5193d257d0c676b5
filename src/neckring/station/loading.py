"""Reading a whole station: every fault of every file in one go, or the validated station."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import TypeAlias, TypeVar

from neckring.station.drills import Drill, DrillSheet, drill_faults
from neckring.station.fault import Fault, StationFaults
from neckring.station.files import FileFault, Found, read_text, station_files
from neckring.station.inheritance import fill_suits
from neckring.station.kept_trees import ReadTree
from neckring.station.kit import Kit
from neckring.station.kit_items import KitItems, kit_item_faults
from neckring.station.limits import LimitSheet
from neckring.station.nodes import Node
from neckring.station.panels import PanelSheet
from neckring.station.people import PeopleSheet
from neckring.station.procedure_sheet import ProcedureSheet
from neckring.station.references import reference_faults
from neckring.station.run import Run
from neckring.station.same_day import same_day_warnings
from neckring.station.site import Station
from neckring.station.suit import Suit
from neckring.station.validation import validate, without_missing
from neckring.station.warnings import station_warnings
from neckring.station.wearer import Wearer
from neckring.station.written import Written
from neckring.station.yaml_reading import read_yaml

MODELS: dict[str, type[Written]] = {
    "station": Station,
    "limits": LimitSheet,
    "suit": Suit,
    "wearer": Wearer,
    "run": Run,
    "kit": Kit,
    "procedure": ProcedureSheet,
    "people": PeopleSheet,
    "kit_items": KitItems,
    "panels": PanelSheet,
    "drills": DrillSheet,
}
"""What each kind of file holds."""


MOST_REMEMBERED = 256
"""Files whose reading is remembered; a station has some dozens."""

Trees: TypeAlias = dict[str, dict[str, Node]]
Models: TypeAlias = dict[str, dict[str, Written]]
Sheet = TypeVar("Sheet", bound=Written)
_MODELS_OF: dict[tuple[type[Written], int, bool], tuple[Node, Written | None, list[Fault]]] = {}


@dataclass(frozen=True)
class LoadedStation:
    """A station without a fault.

    Attributes:
        station: Places, paths, facility, policy.
        limits: The signed sheet.
        suits: By code; what a suit extends is filled in.
        wearers: By code.
        runs: By code; what a spell carries on is filled in.
        kits: By code.
        procedures: By code.
        people: Who may do what; None where there is no such file.
        kit_items: Every item by serial; None where there is no such file.
        panels: To whom near misses are reported; None where there is no such file.
        drills: Times that were taken, the oldest first.
        warnings: What is allowed but worth a second look.
        trees: What was written, by kind and file; each suit with what it extends.
    """

    station: Station
    limits: LimitSheet
    suits: dict[str, Suit]
    wearers: dict[str, Wearer]
    runs: dict[str, Run]
    kits: dict[str, Kit] = field(default_factory=dict)
    procedures: dict[str, ProcedureSheet] = field(default_factory=dict)
    people: PeopleSheet | None = None
    kit_items: KitItems | None = None
    panels: PanelSheet | None = None
    drills: tuple[Drill, ...] = ()
    warnings: tuple[Fault, ...] = ()
    trees: Trees = field(default_factory=dict, repr=False, compare=False)


def load_station(folder: Path | str, read_tree: ReadTree | None = None) -> LoadedStation:
    """Read a station's folder.

    Args:
        folder: The folder which holds station.yaml.
        read_tree: Parses a file's text; None for what remembers the last ones.

    Returns:
        The validated station.

    Raises:
        StationFaults: With every fault of every file.
    """
    found = Found()
    trees = _read_trees(Path(folder), found, read_tree or tree_of)
    models, told = _validated(trees, all_suits_read="suit" not in found.unread)
    faults = [*found.faults, *told, *reference_faults(trees, found.unread)]
    if "suit" not in found.unread:
        faults += [*kit_item_faults(trees), *drill_faults(trees)]
    if faults:
        raise StationFaults(faults)
    return _loaded(models, trees)


def _read_trees(folder: Path, found: Found, read_tree: ReadTree) -> Trees:
    trees: Trees = {kind: {} for kind in MODELS}
    for kind, file in station_files(folder, found):
        try:
            trees[kind][file], told = read_tree(read_text(folder, file), file)
            found.faults += told
        except FileFault as refused:
            found.cannot_read(kind, [refused.fault])
    return trees


@lru_cache(maxsize=MOST_REMEMBERED)
def tree_of(text: str, file: str) -> tuple[Node, tuple[Fault, ...]]:
    """The tree of a file's text; a station read again knows what has not changed."""
    tree, told = read_yaml(text, file)
    return tree, tuple(told)


def _model_of(model: type[Written], tree: Node, whole: bool) -> tuple[Written | None, list[Fault]]:
    """The model of a tree, the very same one for the very same tree."""
    key = (model, id(tree), whole)
    if key not in _MODELS_OF or _MODELS_OF[key][0] is not tree:
        if len(_MODELS_OF) >= MOST_REMEMBERED:
            _MODELS_OF.clear()
        # The tree is kept, so that no other can come to have its identity.
        _MODELS_OF[key] = (tree, *validate(model, tree, whole=whole))
    _, made, told = _MODELS_OF[key]
    return made, told


def _validated(trees: Trees, all_suits_read: bool) -> tuple[Models, list[Fault]]:
    """Validate every tree; the suits' trees are filled with what they extend on the way."""
    trees["suit"], unfilled, faults = fill_suits(trees["suit"], all_suits_read)
    models: Models = {kind: {} for kind in MODELS}
    for kind, model in MODELS.items():
        told = {}
        for file, tree in trees[kind].items():
            valid, told[file] = _model_of(model, tree, file not in unfilled)
            if valid is not None:
                models[kind][file] = valid
        for file, own in told.items():
            extends = "extends" in trees[kind][file].entries
            base_at_fault = any(told[other] for other in told if other != file)
            faults += without_missing(own) if extends and base_at_fault else own
    return models, faults


def _loaded(models: Models, trees: Trees) -> LoadedStation:
    (station,), (limits,) = models["station"].values(), models["limits"].values()
    assert isinstance(station, Station)
    assert isinstance(limits, LimitSheet)
    suits = {file: suit for file, suit in models["suit"].items() if isinstance(suit, Suit)}
    runs = {file: run for file, run in models["run"].items() if isinstance(run, Run)}
    items = _only(models, "kit_items", KitItems)
    warnings = [
        *station_warnings(station, limits, suits, runs, trees),
        *same_day_warnings(station, runs, items, trees),
    ]
    drills = _only(models, "drills", DrillSheet)
    return LoadedStation(
        station,
        limits,
        {suit.code: suit for suit in suits.values()},
        {one.code: one for one in models["wearer"].values() if isinstance(one, Wearer)},
        {run.code: run for run in runs.values()},
        {one.code: one for one in models["kit"].values() if isinstance(one, Kit)},
        {one.code: one for one in models["procedure"].values() if isinstance(one, ProcedureSheet)},
        _only(models, "people", PeopleSheet),
        items,
        _only(models, "panels", PanelSheet),
        drills.drills if drills else (),
        # What a suit extends would be told again with the suit.
        tuple(dict.fromkeys(warnings)),
        trees,
    )


def _only(models: Models, kind: str, model: type[Sheet]) -> Sheet | None:
    """The model of a file that may be missing."""
    return next((one for one in models[kind].values() if isinstance(one, model)), None)
