"""Every wrong station gets exactly the message written down for it, and never a traceback."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from tests.station.faulty import FAULTY, write_demo

from neckring.station.fault import StationFaults
from neckring.station.loading import load_station

GOLDEN = Path(__file__).parent / "golden"


def messages(folder: Path) -> str:
    """What `check` says of a station, one fault a line."""
    with pytest.raises(StationFaults) as caught:
        load_station(folder)
    return "\n".join(str(fault) for fault in caught.value.faults) + "\n"


@pytest.mark.parametrize("name", FAULTY)
def test_each_faulty_station_gets_its_exact_message(name: str, tmp_path: Path) -> None:
    # Given the demo station with one thing spoilt
    write_demo(tmp_path)
    FAULTY[name](tmp_path)
    # When it is read
    said = messages(tmp_path)
    # Then the message is the one written down; NECKRING_GOLDEN=write writes it anew
    golden = GOLDEN / f"{name}.txt"
    if os.environ.get("NECKRING_GOLDEN") == "write":
        golden.write_text(said, encoding="utf-8")
    assert said == golden.read_text(encoding="utf-8")


def test_there_are_enough_faulty_stations_and_no_orphaned_message() -> None:
    assert len(FAULTY) >= 60
    assert {path.stem for path in GOLDEN.glob("*.txt")} == set(FAULTY)
