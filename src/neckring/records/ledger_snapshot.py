"""The state of the kit as it was when the whole ledger was last verified, kept beside the ledger.

Never a source of truth: what it says it stands on is held against the ledger each time, and a
snapshot that is missing, damaged or of another make is made anew from the whole ledger.
"""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from neckring import __version__
from neckring.ledger import ledger_data, ledger_state, records
from neckring.ledger.ledger_data import FORMAT, data_of, ledger_from
from neckring.ledger.ledger_state import Ledger
from neckring.live.entries import Head
from neckring.whole_file import write_whole

FILE = "ledger_snapshot.json"
_SPOILT = (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError)


@dataclass(frozen=True)
class Snapshot:
    """What was kept.

    Attributes:
        head: Of the ledger, up to which it was verified.
        verified_at: When, seconds since 1970.
        state: The fold up to there; None when it is of another make or damaged, so that only the
            head can be held against the ledger.
    """

    head: Head
    verified_at: float
    state: Ledger | None


@lru_cache(maxsize=1)
def make() -> str:
    """What made a snapshot: version, form, and the text of all that folds a record."""
    folding = sha256()
    for module in (records, ledger_state, ledger_data):
        folding.update(Path(str(module.__file__)).read_bytes())
    return f"{__version__}, form {FORMAT}, {folding.hexdigest()[:16]}"


def write_snapshot(kept: Path, head: Head, state: Ledger, verified_at: float) -> None:
    """Keep the state of a ledger that was wholly verified; a disk that takes nothing costs time.

    Args:
        kept: The folder in which the ledger lies.
        head: Of the ledger.
        state: The fold over all of it.
        verified_at: Seconds since 1970.
    """
    text = _written(data_of(state))
    told = {
        "head": {"station": head.station, "count": head.count, "digest": head.digest},
        "make": make(),
        "verified_at": verified_at,
        "state": _digest(text),
    }
    first = _written(told | {"check": _digest(_written(told))})
    with suppress(OSError):
        write_whole(kept / FILE, f"{first}\n{text}\n")


def read_snapshot(kept: Path) -> Snapshot | None:
    """What was kept; None when nothing was, or when not even its first line can be read.

    Args:
        kept: The folder in which the ledger lies.
    """
    with suppress(*_SPOILT):
        first, _, text = (kept / FILE).read_bytes().decode("utf-8", "replace").partition("\n")
        told = json.loads(first)
        if told.pop("check") == _digest(_written(told)):
            head = Head(**told["head"])
            fits = told["make"] == make() and told["state"] == _digest(text.removesuffix("\n"))
            state = _state(text, head.count) if fits else None
            return Snapshot(head, told["verified_at"], state)
    return None


def _state(text: str, count: int) -> Ledger | None:
    with suppress(*_SPOILT):
        state = ledger_from(json.loads(text))
        if (state.last.number if state.last else 0) == count:
            return state
    return None


def _digest(text: str) -> str:
    """Finds what a disk has spoilt, not what somebody has changed on purpose."""
    return sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _written(told: object) -> str:
    return json.dumps(told, ensure_ascii=True, separators=(",", ":"))
