"""Questions to the kit ledger and the people of a large station, beside a plain scan of it all.

1,000 runs, 40 kits, 200 people. `..._ms` are times of one answer from the state in memory
(of one item and one run: which entries speak of them).
`reading` is what it takes to get there from the disk with a snapshot, `opening` without: to read,
verify and fold the whole ledger. `typed` is the whole command as people wait for it, interpreter,
station's files and all; beside it the bare interpreter, and a plain scan that parses every entry
with the standard library and verifies nothing.
"""

from __future__ import annotations

import datetime
import json
import random
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from functools import partial
from pathlib import Path

from neckring.crew.sign_offs import who_may
from neckring.ledger.going import kit_state
from neckring.ledger.ledger_state import Ledger, fold
from neckring.ledger.records import Act, Record
from neckring.ledger.repeats import repeats
from neckring.live.chain import empty, next_row
from neckring.live.entries import Deed, Head, Json, Kind, Role, Stamp
from neckring.live.sqlite_book import SqliteStore
from neckring.records import ledger_snapshot
from neckring.records.ledger_entries import CHAIN, FILE, read_records
from neckring.records.ledger_standing import read_standing
from neckring.station.kit_items import KitItems
from neckring.station.people import PeopleSheet

COMMAND = str(Path(sys.executable).with_name("neckring"))
RUNS, KITS, PEOPLE = 1000, 40, 200
ROUNDS = 15
DAY = 24 * 3600.0
BEGIN = 1_760_000_000.0
ITEMS = {"fan": 2, "pump": 1, "battery": 1, "helmet": 1, "garment": 1, "reservoir": 1}


def sheet() -> KitItems:
    """The kit, read."""
    return KitItems.model_validate(kit_data())


def kit_data() -> dict[str, object]:
    """Forty kits of seven items and a bag each, as written."""
    faults = {"slow": {"words": "slow", "severity": "lead decides"}}
    parts: dict[str, object] = {part: {"words": part, "faults": faults} for part in ITEMS}
    parts["battery"] = {"words": "battery", "rated_charge": "12 Ah", "faults": faults}
    parts["garment"] = {"words": "garment", "dries_in": "12 h", "faults": faults}
    check = {"words": "flow", "parts": ["fan"], "reads": "95 L/min or more"}
    kits = [f"K{n}" for n in range(KITS)]
    return {
        "parts": parts,
        "checks": {"flow": {**check, "valid_for": "24 h", "source": "bench", "verified": "no"}},
        "kits": {kit: {"words": kit} for kit in kits},
        "items": {
            f"{kit}-{part}{n}": {"part": part, "kit": kit}
            for kit in kits
            for part, many in ITEMS.items()
            for n in range(many)
        },
        "bags": {
            f"bag-{kit}": {"words": "bag", "kit": kit, "holds": {"pins": "12"}} for kit in kits
        },
    }


def history(items: KitItems, seed: int = 1) -> list[Record]:
    """A thousand runs: everything out and in, checks, cycles, now and then a fault."""
    draw = random.Random(seed)
    records: list[Record] = []

    def add(at: float, act: Act, **body: str | int | float | bool) -> None:
        records.append(Record(len(records) + 1, at, f"P{draw.randrange(PEOPLE)}", act, body))

    for run in range(RUNS):
        at, kit, code = BEGIN + run * DAY / 3, f"K{draw.randrange(KITS)}", f"R{run}"
        serials = items.items_of(kit)
        for serial in serials:
            part = items.items[serial].part
            if part == "fan":
                read = draw.gauss(105.0, 6.0) / 60_000.0
                passed = items.checks["flow"].reads.passes(read)
                add(at, Act.CHECK, item=serial, part=part, check="flow", value=read, text="",
                    passed=passed, severity="grounds")  # fmt: skip
            add(at, Act.OUT, item=serial, run=code)
        add(at, Act.OUT, bag=f"bag-{kit}", piece="pins", count=12, run=code)
        for serial in serials:
            add(at + 7200.0, Act.IN, item=serial, run=code)
            part = items.items[serial].part
            if part == "battery":
                charge = 3600.0 * draw.gauss(11.8 - 0.01 * run / KITS, 0.1)
                add(at + 9000.0, Act.CYCLE, item=serial, charge=charge)
            if draw.random() < 0.01:
                add(at + 9000.0, Act.FAULT, item=serial, part=part, fault="slow",
                    severity="lead decides")  # fmt: skip
        add(at + 7200.0, Act.IN, bag=f"bag-{kit}", piece="pins", count=12, run=code)
    return records


def crowd() -> PeopleSheet:
    """The people, read."""
    return PeopleSheet.model_validate(crowd_data())


def crowd_data() -> dict[str, object]:
    """Two hundred people with ten sign-offs each, as written."""
    start = datetime.date(2026, 1, 5)
    skills = [f"skill{n}" for n in range(5)]
    return {
        "skills": {skill: {"words": skill, "lapses_after": "90"} for skill in skills},
        "roles": {"tender": {"words": "tends", "skills": dict.fromkeys(skills, "alone")}},
        "people": {
            f"P{n}": {
                "signed_off": [
                    {
                        "skill": skill,
                        "how": "alone",
                        "on": (start + datetime.timedelta(days=(n * 7 + i) % 300)).isoformat(),
                        "by": f"P{(n + 1) % PEOPLE}",
                    }
                    for i, skill in enumerate(skills * 2)
                ]
            }
            for n in range(PEOPLE)
        },
    }


def ledger_queries() -> dict[str, float]:
    """Times of one answer [ms], and how many times quicker than a scan of all records."""
    items, people = sheet(), crowd()
    records = history(items)
    now = records[-1].at + DAY
    ledger = fold(records)
    day = datetime.date(2026, 9, 1)

    questions: dict[str, Callable[[Ledger], object]] = {
        "one_kit": lambda state: kit_state(state, items, "K7", now),
        "all_kits": lambda state: [kit_state(state, items, kit, now) for kit in items.kits],
        "repeats": lambda state: repeats(state, items, now),
        "open_faults": lambda state: [one for one in state.faults.values() if one.open],
        "one_item": lambda state: list(state.item("K7-fan0").history),
        "one_run": lambda state: list(state.by_run["R500"]),
    }
    scanned = milliseconds(lambda: fold(records), rounds=3)
    figures = {"records": float(len(records)), "scan_ms": scanned}
    for name, question in questions.items():
        took = milliseconds(partial(question, ledger))
        figures[f"{name}_ms"] = took
        figures[f"{name}_against_scan"] = (scanned + took) / took
    figures["who_may_ms"] = milliseconds(lambda: who_may(people, "tender", day))
    return figures | from_disk(records)


def milliseconds(ask: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Median time of a question [ms]."""
    ask()
    times = []
    for _ in range(rounds):
        begun = time.perf_counter()
        ask()
        times.append(time.perf_counter() - begun)
    return 1000.0 * statistics.median(times)


def from_disk(records: list[Record]) -> dict[str, float]:
    """Times of getting to the state, and of the whole command [ms], with a plain scan beside."""
    with tempfile.TemporaryDirectory() as name:
        folder = large_station(Path(name) / "large")
        kept = folder / "kept"
        write_ledger(kept, records)
        opening = milliseconds(lambda: fold(read_records(kept)), rounds=3)
        read_standing(kept)
        figures = {
            "opening_ms": opening,
            "reading_ms": milliseconds(lambda: read_standing(kept)),
            "plain_scan_ms": milliseconds(lambda: plain_scan(kept / FILE), rounds=3),
        }
        typed = [COMMAND, "kit", "--station", str(folder), "--kit", "K7"]
        figures |= typed_in_turns(typed, kept / ledger_snapshot.FILE)
    figures["reading_against_plain_scan"] = figures["plain_scan_ms"] / figures["reading_ms"]
    return figures


def typed_in_turns(typed: list[str], snapshot: Path, turns: int = 5) -> dict[str, float]:
    """A typed question with the snapshot, without it, and the bare interpreter, in turns [ms]."""
    times: dict[str, list[float]] = {"typed": [], "typed_whole": [], "bare_python": []}
    for _ in range(turns):
        snapshot.unlink()
        times["typed_whole"].append(command_time(typed))
        times["typed"].append(command_time(typed))
        times["bare_python"].append(command_time([sys.executable, "-c", "pass"]))
    figures = {f"{name}_ms": 1000.0 * min(some) for name, some in times.items()}
    figures["typed_whole_against_typed"] = figures["typed_whole_ms"] / figures["typed_ms"]
    figures["typed_against_bare_python"] = figures["typed_ms"] / figures["bare_python_ms"]
    return figures


def command_time(command: list[str]) -> float:
    """How long a command takes [s]."""
    begun = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - begun


def plain_scan(path: Path) -> int:
    """Every entry parsed once by the standard library alone; nothing is verified or folded."""
    with closing(sqlite3.connect(path)) as raw:
        return sum(len(json.loads(text)) for (text,) in raw.execute("SELECT text FROM entry"))


def write_ledger(kept: Path, records: list[Record]) -> None:
    """A ledger of records, written with one sync."""
    kept.mkdir()
    store = SqliteStore(kept / FILE, CHAIN)
    store.open()
    store.begin()
    head = empty(CHAIN)
    for record in records:
        told: dict[str, Json] = dict(record.body)
        body: dict[str, Json] = {"act": record.act.value, "at": record.at, "told": told}
        deed = Deed(f"k{record.number}", Kind.NOTE, record.by, Role.DESK, "kit", body)
        row = next_row(head, deed, Stamp(record.at, record.at, 0.0))
        store.insert(row)
        head = Head(CHAIN, row.number, row.digest)
    store.commit()
    store.abandon()


def large_station(folder: Path) -> Path:
    """The demo station with the kit and the people of above in its files."""
    subprocess.run([COMMAND, "new", str(folder), "--demo"], check=True, capture_output=True)
    (folder / "kit_items.yaml").write_text(json.dumps(kit_data()), encoding="utf-8")
    (folder / "people.yaml").write_text(json.dumps(crowd_data()), encoding="utf-8")
    return folder


if __name__ == "__main__":
    for figure, value in ledger_queries().items():
        print(f"{figure:28s} {value:12.3f}")
