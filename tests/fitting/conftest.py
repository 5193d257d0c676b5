"""The tests of this folder share its modules, and the strict reader of pages, by name."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "records")]
