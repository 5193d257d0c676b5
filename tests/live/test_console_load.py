"""Nothing is lost under load; how long anything takes is for bench/console_load.py to say."""

from __future__ import annotations

import importlib
import os
import sys
from pathlib import Path

import pytest
from demo_day import DEMO

BENCH = Path(__file__).parents[2] / "bench"
LASTS = 60.0 if os.environ.get("NECKRING_SOAK") == "1" else 10.0


def test_no_tap_and_no_reading_is_lost_under_load(monkeypatch: pytest.MonkeyPatch) -> None:
    # Given a console with what eight suits send, and 16 devices that tap and listen
    monkeypatch.syspath_prepend(str(BENCH))
    load = importlib.import_module("console_load").under_load(LASTS, 0, DEMO)
    sys.modules.pop("console_load")

    # Then no client failed, and all that was acknowledged is on disk, once
    assert not load.faults
    assert load.taken > 0
    assert load.kept == load.taken
    assert load.taps_kept == len(load.tap_ms) > 16

    # And every page heard of what the others did
    assert len(load.heard) == 16
    assert min(load.heard) > 0
