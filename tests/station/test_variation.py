"""A station with something written otherwise reads as if the files said so, or says why not."""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.station.faulty import FLOOR, Swap, write_demo

from neckring.station.changes import FIXED, KINDS
from neckring.station.fault import Fault, StationFaults
from neckring.station.loading import LoadedStation, load_station
from neckring.station.nodes import Node
from neckring.station.validation import fields_by_key
from neckring.station.variation import vary, with_value
from neckring.station.written import Written
from neckring.units import Quantity, parse_quantity

DEMO = load_station(Path(str(files("neckring.station") / "demo")))
RUN = "floor-survey"
FILES_OF_RUN = {
    "station": "station.yaml",
    "suit": "suits/dipper.yaml",
    "wearer": "wearers/W2.yaml",
    "run": FLOOR,
}


def leaves(node: Node, path: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """Every single value below a node: its key as a change names it, and its text."""
    if node.text is not None:
        yield ".".join(path), node.text
    for key, entry in node.entries.items():
        yield from leaves(entry.node, (*path, key))
    for number, item in enumerate(node.items, start=1):
        yield from leaves(item, (*path, str(number)))


LEAVES = {
    kind: [
        (key, text)
        for key, text in leaves(DEMO.trees[kind][file], (kind,))
        if key.split(".")[1] not in FIXED
    ]
    for kind, file in FILES_OF_RUN.items()
}
EVERY_LEAF = [leaf for kind in LEAVES for leaf in LEAVES[kind]]


def quantities(part: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Quantity]]:
    """Every quantity in a model with the path to it."""
    if isinstance(part, Quantity):
        yield path, part
    elif isinstance(part, Written):
        for key, field in fields_by_key(type(part)).items():
            name = next(n for n, f in type(part).model_fields.items() if f is field)
            yield from quantities(getattr(part, name), (*path, key))
    elif isinstance(part, dict):
        for key, inner in part.items():
            yield from quantities(inner, (*path, key))
    elif isinstance(part, tuple):
        for number, inner in enumerate(part, start=1):
            yield from quantities(inner, (*path, str(number)))


def faults_of(*changes: tuple[str, str], run: str = RUN) -> tuple[Fault, ...]:
    with pytest.raises(StationFaults) as told:
        vary(DEMO, run, changes)
    return told.value.faults


def parts_of(loaded: LoadedStation) -> dict[str, Written]:
    run = loaded.runs[RUN]
    return {
        "station": loaded.station,
        "suit": loaded.suits[run.suit],
        "wearer": loaded.wearers[run.wearer],
        "run": run,
    }


@pytest.mark.parametrize("kind", KINDS)
def test_writing_what_is_written_changes_nothing(kind: str) -> None:
    # Given every single value in the files of a run, each written over itself
    assert len(LEAVES[kind]) > 7
    for change in LEAVES[kind]:
        # Then the station reads the same
        assert vary(DEMO, RUN, [change]) == DEMO, change
    assert vary(DEMO, RUN, LEAVES[kind]) == DEMO


@given(st.sampled_from(EVERY_LEAF), st.text(max_size=12) | st.sampled_from(["on", "7 kg", "-1 s"]))
def test_any_text_anywhere_is_read_or_told_at_its_change(leaf: tuple[str, str], text: str) -> None:
    try:
        made = vary(DEMO, RUN, [("station.name", "Elsewhere"), (leaf[0], text)])
    except StationFaults as told:
        for fault in told.faults:
            assert fault.file == "compare"
            assert fault.line in (1, 2)
            assert all((fault.field, fault.read, fault.accepted))
            assert str(fault).isprintable()
    else:
        assert made.station.name in ("Elsewhere", text.strip())


@pytest.mark.parametrize("kind", ["station", "suit", "wearer"])
def test_a_quantity_put_in_is_as_good_as_one_written(kind: str) -> None:
    # Given every quantity of station, suit and wearer
    own = parts_of(DEMO)[kind]
    met = 0
    for path, quantity in quantities(own):
        key = ".".join((kind, *path))
        assert (key, quantity.text) in LEAVES[kind]
        other = Quantity(
            quantity.high, quantity.high, quantity.high, "exact", "as read", quantity.kind
        )
        # When its upper bound is put in, then just that is changed
        put = with_value(own, path, other)
        assert dict(quantities(put)) == {**dict(quantities(own)), path: other}
        met += 1
    assert met > 5


def test_a_quantity_put_in_equals_the_same_quantity_read() -> None:
    text = "31 W/K +/- 2"
    read = vary(DEMO, RUN, [("suit.garment.conductance", text)]).suits["dipper"]
    quantity = parse_quantity(text, "conductance")
    assert read == with_value(DEMO.suits["dipper"], ("garment", "conductance"), quantity)
    assert read != DEMO.suits["dipper"]


def test_values_can_be_put_into_lists_names_and_groups_left_out(tmp_path: Path) -> None:
    # Given a run without a help group
    write_demo(tmp_path)
    Swap(FLOOR, "help: {", "# help: {")(tmp_path)
    run = load_station(tmp_path).runs[RUN]
    assert run.help is None
    # When values are put at keys as written or by the names of fields
    slow = parse_quantity("0.1 m/s", "speed")
    changed = with_value(run, ("outing", "5", "speed"), slow)
    changed = with_value(changed, ("outing", "4", "to"), "floor")
    changed = with_value(changed, ("outing", "6", "duration"), None)
    changed = with_value(changed, ("help", "tender"), "yard")
    # Then they stand there, and the run itself is as it was
    assert changed.outing[4].speed is slow
    assert changed.outing[3].to_place == "floor"
    assert changed.outing[5].duration is None
    assert changed.hands.tender == "yard"
    assert changed.hands.assumed == ("tenders", "tender_speed", "call_every")
    assert run.outing[3].to_place == "yard"
    place = with_value(DEMO.station, ("places", "floor", "wind"), slow).places["floor"]
    assert place.wind is slow


@pytest.mark.parametrize(
    ("path", "wrong"),
    [
        ("outing.0.speed", "'0' in a tuple"),
        ("outing.99.speed", "'99' in a tuple"),
        ("outing.x.speed", "'x' in a tuple"),
        ("outing.5.sped", "'sped' in a Spell"),
        ("code.x", "'x' in a str"),
        ("titel", "'titel' in a Run"),
    ],
)
def test_a_path_that_leads_nowhere_is_a_lookup_error(path: str, wrong: str) -> None:
    with pytest.raises(LookupError, match=wrong):
        with_value(DEMO.runs[RUN], tuple(path.split(".")), None)


def test_another_wearer_in_another_suit_on_a_hotter_day() -> None:
    # When wearer and suit are replaced, and something in the new suit
    made = vary(
        DEMO,
        RUN,
        [
            ("suit.air.fans", "1"),
            ("station.places.floor.air_temperature", "30 degC"),
            ("wearer", "W1"),
            ("suit", "wagtail"),
            ("wearer.mass", "70 kg"),
        ],
    )
    # Then just they are changed, whatever the order
    run = made.runs[RUN]
    assert (run.wearer, run.suit) == ("W1", "wagtail")
    assert made.suits["wagtail"].air.fans == 1
    assert made.suits["wagtail"].garment == DEMO.suits["wagtail"].garment
    assert made.suits["dipper"] == DEMO.suits["dipper"]
    assert made.wearers["W1"].mass.nominal == 70.0
    assert made.wearers["W2"] == DEMO.wearers["W2"]
    assert made.station.places["floor"].air_temperature.nominal == 30.0
    assert made.station.places["bench"] == DEMO.station.places["bench"]
    assert made.runs["bench-climb"] == DEMO.runs["bench-climb"]
    assert made.limits == DEMO.limits


def test_what_is_changed_in_a_spell_carries_on() -> None:
    made = vary(DEMO, RUN, [("run.outing[4].valve", "20 %")]).runs[RUN]
    shown = [spell.valve.text for spell in made.outing[2:10] if spell.valve]
    assert shown == ["100 %", "20 %", "20 %", "20 %", "20 %", "20 %", "20 %", "80 %"]


def test_a_changed_station_can_be_changed_again_and_is_left_as_it_was() -> None:
    once = vary(DEMO, RUN, [("suit.air.fans", "1")])
    twice = vary(once, RUN, [("suit.air.leak", "9 L/min")]).suits["dipper"].air
    assert (twice.fans, twice.leak.text) == (1, "9 L/min")
    assert load_station(Path(str(files("neckring.station") / "demo"))) == DEMO
    assert vary(DEMO, RUN, []) is DEMO


def test_a_group_left_out_is_made_when_it_needs_no_key(tmp_path: Path) -> None:
    write_demo(tmp_path)
    Swap(FLOOR, "help: {", "# help: {")(tmp_path)
    made = vary(load_station(tmp_path), RUN, [("run.help.tender", "along")])
    assert made.runs[RUN].hands.walks_along
    assert pickle.loads(pickle.dumps(made)) == made


def test_what_is_allowed_but_odd_is_a_warning_of_this_run_alone() -> None:
    (warning,) = vary(DEMO, RUN, [("run.outing.4.valve", "0 %")]).warnings
    assert (warning.file, warning.field) == (FLOOR, "outing[4]")
    (thin,) = vary(DEMO, RUN, [("station.altitude", "1500 m")]).warnings
    assert thin.field == "limits[14].value"


def test_without_a_facility_nothing_of_it_can_be_changed(tmp_path: Path) -> None:
    # Given a station without a facility, and a run that does without
    write_demo(tmp_path)
    site = tmp_path / "station.yaml"
    before, _, after = site.read_text(encoding="utf-8").partition("facility:")
    site.write_text(before + "policy:" + after.partition("policy:")[2], encoding="utf-8")
    for file in (tmp_path / "runs").iterdir():
        written = file.read_text(encoding="utf-8").replace("facility", "pack, valve: 50 %", 1)
        lines = [
            line.replace("cooling: facility, air: facility", "cooling: pack, valve: 9 %, air: pack")
            for line in written.splitlines()
        ]
        file.write_text("\n".join(lines).replace("air: facility", "air: pack"), encoding="utf-8")
    loaded = load_station(tmp_path)
    with pytest.raises(StationFaults) as told:
        vary(loaded, RUN, [("station.facility.water_flow", "1 L/min")])
    (fault,) = told.value.faults
    assert fault.accepted == "a group that is there; facility is not"


REFUSED = {
    "unknown suit": (
        [("suit", "diper"), ("suit.air.fans", "1")],
        'compare:1:6: suit: read "diper"; accepted: the code of a suit of this station: '
        'dipper or wagtail; did you mean "dipper"?',
    ),
    "out of range": (
        [("suit.air.fans", "9")],
        'compare:1:15: suit.air.fans: read "9"; accepted: a whole number from 1 to 8',
    ),
    "no unit": (
        [("suit.air.fans", "1"), ("station.places.floor.wind", "3")],
        'compare:2:27: station.places.floor.wind: read "3" (a number without a unit); accepted: '
        'a speed from 0 m/s to 30 m/s (in m/s, km/h or mph); write the unit, as in "3 m/s"',
    ),
    "misspelt key": (
        [("run.help.tendr", "floor")],
        'compare:1:1: run.help.tendr: read "tendr" in "run.help.tendr"; accepted: tender, '
        'tenders, tender_speed, call_every or partner; did you mean "tender"?',
    ),
    "misspelt place": (
        [("station.places.flor.wind", "3 m/s")],
        'compare:1:1: station.places.flor.wind: read "flor" in "station.places.flor.wind"; '
        'accepted: bay, yard, floor or bench; did you mean "floor"?',
    ),
    "no such spell": (
        [("run.outing.16.speed", "1 m/s")],
        'compare:1:1: run.outing.16.speed: read "16" in "run.outing.16.speed"; accepted: '
        "a number from 1 to 15",
    ),
    "beyond a value": (
        [("wearer.mass.low", "1 kg")],
        'compare:1:1: wearer.mass.low: read "low" in "wearer.mass.low"; accepted: nothing more, '
        "as one value stands there",
    ),
    "a whole group": (
        [("suit.strap", "70 mm")],
        'compare:1:1: suit.strap: read "suit.strap"; accepted: one value; go on with width or '
        "contact_length",
    ),
    "a whole list": (
        [("run.outing", "nothing")],
        'compare:1:1: run.outing: read "run.outing"; accepted: one value; go on with a number '
        "from 1 to 15",
    ),
    "a whole file": (
        [("run", "none")],
        'compare:1:1: run: read "run"; accepted: one value; go on with title, about, wearer, '
        "suit, date, start, help or outing",
    ),
    "a code": (
        [("wearer.code", "W9")],
        'compare:1:1: wearer.code: read "code" in "wearer.code"; accepted: about, sex, age, '
        "height, mass, body_fat, resting_heart_rate, maximum_heart_rate, maximum_oxygen_uptake, "
        "acclimatised, work_factor, measures or settings",
    ),
    "a gap": (
        [("station..wind", "3 m/s")],
        'compare:1:1: station..wind: read a gap in "station..wind"; accepted: name, about, '
        "invented, timezone, altitude, places, paths, facility, policy or console",
    ),
    "no kind": (
        [("air.fans", "1")],
        'compare:1:1: air.fans: read "air.fans"; accepted: suit, wearer, or a key that begins '
        'with run., station., suit. or wearer.; did you mean "suit.air.fans"?',
    ),
    "misspelt kind": (
        [("suits.air.fans", "1")],
        'compare:1:1: suits.air.fans: read "suits.air.fans"; accepted: suit, wearer, or a key that '
        'begins with run., station., suit. or wearer.; did you mean "suit.air.fans"?',
    ),
    "twice": (
        [("wearer", "W1"), ("run.wearer", "W3")],
        "compare:2:1: run.wearer: read the same key a second time; accepted: each key once",
    ),
    "contradiction": (
        [("suit.garment.shares.thighs", "16 %")],
        "compare:1:28: suit.garment.shares: read shares that add up to 90 %; accepted: shares "
        "that add up to 100 %",
    ),
    "out of reach": (
        [("run.outing.6.cooling", "facility")],
        "compare:1:22: run.outing.6.cooling: read cooling from the facility at floor; accepted: "
        "facility supply only where its umbilical reaches: bay",
    ),
    "no path": (
        [("suit.air.fans", "1"), ("run.outing.4.to", "bench")],
        'compare:2:17: run.outing.4.to: read "bench"; accepted: a place to which a path leads; '
        "from bay they lead to yard; station.yaml lists the paths",
    ),
    "tender nowhere": (
        [("run.help.tender", "flor")],
        'compare:1:17: run.help.tender: read "flor"; accepted: the word along, or a place of '
        'station.yaml: bay, yard, floor or bench; did you mean "floor"?',
    ),
    "nothing": (
        [("wearer.age", "")],
        "compare:1:12: wearer.age: read nothing; accepted: an age from 16 yr to 90 yr (in yr), "
        "without a spread",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_each_refusal_says_what_was_read_and_what_is_accepted(name: str) -> None:
    changes, message = REFUSED[name]
    assert [str(fault) for fault in faults_of(*changes)] == [message]


def test_all_faults_are_told_at_once() -> None:
    faults = faults_of(("suit.air.fnas", "1"), ("wearer.mass", "7 kg"), ("run.start", "25:00"))
    assert [(fault.line, fault.field) for fault in faults] == [
        (1, "suit.air.fnas"),
        (2, "wearer.mass"),
        (3, "run.start"),
    ]


def test_a_fault_is_told_at_the_change_that_brought_it_about() -> None:
    # Given a facility that no longer reaches the bay, and changes that have no part in it
    faults = faults_of(
        ("suit.air.fans", "1"),
        ("station.facility.reaches.1", "yard"),
        ("wearer.mass", "70 kg"),
        ("run.title", "Another"),
    )
    assert {fault.field for fault in faults} == {"run.outing[2].cooling", "run.outing[13].cooling"}
    assert {fault.line for fault in faults} == {2}


def test_an_unknown_run_is_told_with_the_nearest() -> None:
    (fault,) = faults_of(("wearer", "W1"), run="flor-survey")
    assert str(fault) == (
        'compare:1:1: run: read "flor-survey"; accepted: the code of a run of this station: '
        'bench-climb, floor-partner, floor-survey or yard-walk; did you mean "floor-survey"?'
    )
