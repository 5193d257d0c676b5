"""One setting for every property test: repeatable in `make test`, free and long in `make soak`."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("repeatable", deadline=None, derandomize=True)
settings.register_profile("soak", deadline=None, max_examples=1000)
settings.load_profile("soak" if os.environ.get("NECKRING_SOAK") == "1" else "repeatable")
