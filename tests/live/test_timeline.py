"""A timeline of faults: read with its places, due once each, in order."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckring.live.bodies import body_fault, key_fault
from neckring.live.entries import HIDDEN, Kind
from neckring.live.timeline import Timed, due, in_order, read_timeline
from neckring.station.fault import StationFaults

CHANNELS = {"A": ("heart", "co2"), "B": ("heart",)}
GOOD = """# invented
faults:
  - {at: 20 min, wearer: A, fault: fans, until: 24 min}
  - {at: 5 min, wearer: B, fault: main_kinked, share: 80 %}
  - {at: 24 min, wearer: A, fault: sensor-stuck, channel: heart}
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "faults.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_timeline_is_put_in_order(tmp_path: Path) -> None:
    timeline = read_timeline(written(tmp_path, GOOD), CHANNELS)
    assert timeline == (
        Timed(300.0, Kind.FAULT_BEGUN, "B", "main_kinked", 0.8),
        Timed(1200.0, Kind.FAULT_BEGUN, "A", "fans", 1.0),
        Timed(1440.0, Kind.FAULT_ENDED, "A", "fans", 1.0),
        Timed(1440.0, Kind.FAULT_BEGUN, "A", "sensor-stuck:heart", 1.0),
    )


@pytest.mark.parametrize(
    ("line", "place", "says"),
    [
        ("{at: 20, wearer: A, fault: fans}", "2:10: faults[1].at", "a number without a unit"),
        ("{at: 20 min, wearer: C, fault: fans}", "2:26: faults[1].wearer", "accepted: A or B"),
        ("{at: 20 min, wearer: A, fault: fan}", "2:36: faults[1].fault", 'did you mean "fans"?'),
        (
            "{at: 20 min, wearer: A, fault: fans, until: 20 min}",
            "2:49: faults[1].until",
            "later than at, which is 20 min",
        ),
        ("{at: 20 min, wearer: A, fault: fans, share: 120 %}", "2:49: faults[1].share", "120 %"),
        ("{at: 20 min, wearer: A, fault: sensor-stuck}", "faults[1].channel", "sensor fails"),
        (
            "{at: 20 min, wearer: A, fault: sensor-stuck, channel: hart}",
            "2:59: faults[1].channel",
            'did you mean "heart"?',
        ),
        ("{at: 1 min, wearer: A, fault: fans, channel: co2}", "faults[1].channel", "only beside"),
        ("{at: 1 min, wearer: A, fault: nothing}", "2:35: faults[1].fault", '"nothing"'),
        ("{at: 1 min, wearer: A, folt: fans}", "faults[1].folt", "folt"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(
    tmp_path: Path, line: str, place: str, says: str
) -> None:
    with pytest.raises(StationFaults) as told:
        read_timeline(written(tmp_path, f"faults:\n  - {line}\n"), CHANNELS)
    assert any(place in str(fault) and says in str(fault) for fault in told.value.faults), str(
        told.value
    )
    assert all(str(fault).startswith("faults.yaml:") for fault in told.value.faults)


@pytest.mark.parametrize("text", ["", "faults: []\n", "[", "\x00", "faults: 3\n"])
def test_a_file_that_is_none_is_told_of(tmp_path: Path, text: str) -> None:
    with pytest.raises(StationFaults):
        read_timeline(written(tmp_path, text), CHANNELS)


def test_a_wearer_who_takes_no_part_and_a_missing_file_are_told_of(tmp_path: Path) -> None:
    with pytest.raises(StationFaults, match="a wearer of this rehearsal: A"):
        read_timeline(written(tmp_path, GOOD), {"A": CHANNELS["A"]})
    with pytest.raises(StationFaults, match="no such file"):
        read_timeline(tmp_path / "none.yaml", CHANNELS)


@given(st.lists(st.floats(0.0, 2000.0), max_size=30))
def test_however_it_is_asked_each_is_due_once_and_in_order(tmp_path_factory, times) -> None:
    # Given any instants at which the console asks, the last one after the end,
    path = written(tmp_path_factory.mktemp("timeline"), GOOD)
    timeline = read_timeline(path, CHANNELS)
    before, deeds = -1.0, []
    for now in (*sorted(times), 5000.0):
        deeds += due(timeline, before, now, "run-1", "R1")
        before = now
    # then each is due once, in order, under keys of their own, which are always the same.
    assert [deed.kind for deed in deeds] == [one.kind for one in timeline]
    assert len({deed.key for deed in deeds}) == len(timeline)
    assert tuple(deeds) == due(timeline, -1.0, 5000.0, "run-1", "R1")
    assert {d.key for d in deeds}.isdisjoint(
        d.key for d in due(timeline, -1.0, 5000.0, "run-2", "R1")
    )
    # And the book takes them, hidden from all but the trainer.
    for deed in deeds:
        assert key_fault(deed) == ""
        assert body_fault(deed.kind, deed.body) == ""
        assert deed.kind in HIDDEN


def test_in_order_keeps_nothing_twice(tmp_path: Path) -> None:
    from neckring.live.timeline import TimelineSheet

    sheet = TimelineSheet.model_validate(
        {"faults": [{"at": "1 min", "wearer": "A", "fault": "fans", "until": "2 min"}]}
    )
    assert [one.kind for one in in_order(sheet)] == [Kind.FAULT_BEGUN, Kind.FAULT_ENDED]
