"""Deeds, stamps and readings of every kind, drawn for tests of what keeps them."""

from __future__ import annotations

import os
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from neckring.live.entries import Deed, Kind, Role, Stamp
from neckring.live.reading import Flaw, Reading

SOAK = os.environ.get("NECKRING_SOAK") == "1"
few = settings(
    max_examples=1000 if SOAK else 30,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
"""For laws about whole chains, which take long to draw."""


def in_memory() -> TemporaryDirectory[str]:
    """A folder, in memory where there is one: for tests in which the disk plays no part."""
    memory = Path("/dev/shm")
    return TemporaryDirectory(
        prefix="neckring-", dir=memory if os.access(memory, os.W_OK) else None
    )


finite = st.floats(allow_nan=False, allow_infinity=False)
letters = st.text(st.characters(codec="utf-8"), max_size=12)
values = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**9), 10**9) | finite | letters,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(letters, inner, max_size=3),
    max_leaves=5,
)
keys = st.text("abcdef0123456789-", min_size=1, max_size=20)
deeds = st.builds(
    Deed,
    key=keys,
    kind=st.sampled_from(Kind),
    actor=letters,
    role=st.sampled_from(Role),
    device=letters,
    body=st.dictionaries(letters, values, max_size=3),
    tapped_at=st.none() | finite,
    offset=st.none() | finite,
)
stamps = st.builds(Stamp, wall=finite, monotonic=finite, run_time=finite)
any_float = st.floats()
decimal = st.integers(-(10**7), 10**7).map(lambda whole: whole / 100.0)
readings = st.builds(
    Reading,
    wearer=st.sampled_from("AB"),
    channel=st.sampled_from(["core", "flow"]),
    value=any_float | decimal,
    source_time=st.none() | any_float,
    received=finite | decimal,
    run_time=st.floats(0.0, 1e6) | decimal,
    flaws=st.frozensets(st.sampled_from(Flaw)),
)
