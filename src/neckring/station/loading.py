"""Reading a whole station: every fault of every file in one go, or the validated station."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from neckring.station.fault import Fault, StationFaults
from neckring.station.fields import Written
from neckring.station.files import FileFault, read_text, station_files
from neckring.station.inheritance import fill_suits
from neckring.station.limits import LimitSheet
from neckring.station.nodes import Node
from neckring.station.references import reference_faults
from neckring.station.run import Run
from neckring.station.site import Station
from neckring.station.suit import Suit
from neckring.station.validation import validate
from neckring.station.warnings import station_warnings
from neckring.station.wearer import Wearer
from neckring.station.yaml_reading import read_yaml

MODELS: dict[str, type[Written]] = {
    "station": Station,
    "limits": LimitSheet,
    "suit": Suit,
    "wearer": Wearer,
    "run": Run,
}
"""What each kind of file holds."""


@dataclass(frozen=True)
class LoadedStation:
    """A station without a fault.

    Attributes:
        station: Places, paths, facility, policy.
        limits: The signed sheet.
        suits: By code; what a suit extends is filled in.
        wearers: By code.
        runs: By code; what a spell carries on is filled in.
        warnings: What is allowed but worth a second look.
    """

    station: Station
    limits: LimitSheet
    suits: dict[str, Suit]
    wearers: dict[str, Wearer]
    runs: dict[str, Run]
    warnings: tuple[Fault, ...] = ()


def load_station(folder: Path | str) -> LoadedStation:
    """Read a station's folder.

    Args:
        folder: The folder which holds station.yaml.

    Returns:
        The validated station.

    Raises:
        StationFaults: With every fault of every file.
    """
    faults: list[Fault] = []
    trees = _read_trees(Path(folder), faults)
    trees["suit"], unfilled, told = fill_suits(trees["suit"])
    faults += told
    models: dict[str, dict[str, Written]] = {kind: {} for kind in MODELS}
    for kind, model in MODELS.items():
        for file, tree in trees[kind].items():
            valid, told = validate(model, tree, whole=file not in unfilled)
            faults += told
            if valid is not None:
                models[kind][file] = valid
    faults += reference_faults(trees)
    if faults:
        raise StationFaults(faults)
    return _loaded(models, trees)


def _read_trees(folder: Path, faults: list[Fault]) -> dict[str, dict[str, Node]]:
    trees: dict[str, dict[str, Node]] = {kind: {} for kind in MODELS}
    for kind, file in station_files(folder, faults):
        try:
            trees[kind][file], told = read_yaml(read_text(folder, file), file)
            faults += told
        except FileFault as refused:
            faults.append(refused.fault)
    return trees


def _loaded(
    models: dict[str, dict[str, Written]], trees: dict[str, dict[str, Node]]
) -> LoadedStation:
    (station,), (limits,) = models["station"].values(), models["limits"].values()
    assert isinstance(station, Station)
    assert isinstance(limits, LimitSheet)
    runs = {file: run for file, run in models["run"].items() if isinstance(run, Run)}
    return LoadedStation(
        station,
        limits,
        {suit.code: suit for suit in models["suit"].values() if isinstance(suit, Suit)},
        {one.code: one for one in models["wearer"].values() if isinstance(one, Wearer)},
        {run.code: run for run in runs.values()},
        tuple(station_warnings(station, limits, runs, trees)),
    )
