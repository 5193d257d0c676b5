"""Brings the third-party browser code into a wheel: from the npm registry, by the lock file."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class BrowserCode(BuildHookInterface):  # type: ignore[type-arg]
    """Fetches the browser code before a wheel is packed."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Fetch it; a wheel without it is refused, an editable install goes on and says so."""
        script = Path(self.root) / "scripts" / "browser_code.py"
        ended = subprocess.run([sys.executable, str(script)], check=False)
        if ended.returncode and version != "editable":
            raise RuntimeError("a wheel is packed with its browser code; see above what is missing")
