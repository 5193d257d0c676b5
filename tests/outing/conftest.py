"""Lets the tests of this folder share `scenarios`, and sets how many examples hypothesis makes."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from hypothesis import HealthCheck, settings

sys.path.insert(0, str(Path(__file__).parent))

SOAK = os.environ.get("NECKRING_SOAK") == "1"

settings.register_profile(
    "outing",
    max_examples=1000 if SOAK else 80,
    deadline=None,
    derandomize=not SOAK,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.load_profile("outing")
