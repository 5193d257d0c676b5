"""Lets the tests of this folder share modules that stand beside them, and those of the live run."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "live")]
