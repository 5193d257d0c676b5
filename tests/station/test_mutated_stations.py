"""Whatever is done to a valid station's files, it loads or tells faults; it never breaks down."""

from __future__ import annotations

import os
import tempfile
from importlib.resources import files
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.station.faulty import write_demo

from neckring.station.fault import Fault, StationFaults
from neckring.station.loading import LoadedStation, load_station

EXAMPLES = 2000 if os.environ.get("NECKRING_SOAK") else 200

DEMO = Path(str(files("neckring.station") / "demo"))
FILES = sorted(str(path.relative_to(DEMO)) for path in DEMO.rglob("*.yaml"))

SNIPPETS = (
    *(b"\t", b"\x00", b"\xff\xfe", b"{", b"}", b"[", b"]", b":", b": ", b"- ", b"'", b'"', b"#"),
    *(b"&a ", b"*a", b"<<: *a", b"!!int ", b"%", b"@", b"|", b">", b"---\n", b"...\n", b"? "),
    *(b"\r", b"\n", b".nan", b".inf", b"-", b"1e999 kg", b"null", b"~", b"on", b"yes", b"[]"),
    *(b"{}", b"0x1F", b"010", b"9" * 24, b"1..", b"..2 K", b"5 +/- 2 %", b"2026-13-45"),
    *(text.encode() for text in ("±", "\u2028", "\ufeff", "\u00a0", "extends: wagtail\n")),
    *(b"code: W1\n", b"place: bay, ", b"from: bay, to: yard, "),
)


def _at(draw: st.DrawFn, content: bytes) -> int:
    return draw(st.integers(0, len(content)))


@st.composite
def mutations(draw: st.DrawFn) -> dict[str, bytes]:
    """One to four changes to one or two of the demo's files."""
    changed: dict[str, bytes] = {}
    for _ in range(draw(st.integers(1, 4))):
        file = draw(st.sampled_from(FILES))
        content = changed.get(file, (DEMO / file).read_bytes())
        changed[file] = draw(st.sampled_from(CHANGES))(draw, content)
    return changed


def _delete(draw: st.DrawFn, content: bytes) -> bytes:
    start = _at(draw, content)
    return content[:start] + content[start + draw(st.integers(1, 30)) :]


def _insert(draw: st.DrawFn, content: bytes) -> bytes:
    place = _at(draw, content)
    new = draw(st.sampled_from(SNIPPETS) | st.binary(max_size=6))
    return content[:place] + new + content[place:]


def _replace(draw: st.DrawFn, content: bytes) -> bytes:
    place = _at(draw, content)
    new = draw(st.sampled_from(SNIPPETS) | st.text(max_size=4).map(_encoded))
    return content[:place] + new + content[place + len(new) :]


def _encoded(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def _lines(draw: st.DrawFn, content: bytes) -> bytes:
    lines = content.splitlines(keepends=True) or [b""]
    first = draw(st.integers(0, len(lines) - 1))
    second = draw(st.integers(0, len(lines) - 1))
    what = draw(st.sampled_from(["swap", "drop", "double", "indent"]))
    if what == "swap":
        lines[first], lines[second] = lines[second], lines[first]
    elif what == "drop":
        del lines[first]
    elif what == "double":
        lines.insert(second, lines[first])
    else:
        lines[first] = b" " * draw(st.integers(1, 9)) + lines[first]
    return b"".join(lines)


def _value(draw: st.DrawFn, content: bytes) -> bytes:
    """Put another value, of the same or of a wrong type, behind some key."""
    lines = content.splitlines(keepends=True)
    keyed = [i for i, line in enumerate(lines) if b": " in line]
    if not keyed:
        return content
    place = draw(st.sampled_from(keyed))
    key, _, _ = lines[place].partition(b": ")
    other = lines[draw(st.sampled_from(keyed))].partition(b": ")[2].strip()
    new = draw(
        st.sampled_from((other, b"[1, 2]", b"{a: 1}", b"", b"on", b"-5 kg", b"3", b"x" * 700))
        | st.from_regex(rb"[0-9]{1,3}(\.[0-9])?( (kg|%|W/K|degC|bpm|m/s|min))?", fullmatch=True)
    )
    lines[place] = key + b": " + new + b"\n"
    return b"".join(lines)


CHANGES = (_delete, _insert, _replace, _lines, _value)


@given(mutations())
@settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize=not os.environ.get("NECKRING_SOAK"),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
def test_a_mutated_station_loads_or_tells_where_it_is_wrong(changed: dict[str, bytes]) -> None:
    # Given the demo station with some of its files changed at random
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        write_demo(folder)
        for file, content in changed.items():
            (folder / file).write_bytes(content)
        # When it is read
        loaded, faults = read(folder)
    # Then it is whole, or every fault says where it is, what was read and what is accepted
    assert (loaded is None) == bool(faults)
    if loaded is not None:
        counts = (len(loaded.suits), len(loaded.wearers), len(loaded.runs))
        assert counts == (2, 6, 4)
    for fault in faults:
        assert fault.file in FILES
        assert min(fault.line, fault.column) >= 1
        assert all((fault.field, fault.read, fault.accepted))
        assert str(fault).isprintable()


def read(folder: Path) -> tuple[LoadedStation | None, tuple[Fault, ...]]:
    """Read a station: whole, or with its faults."""
    try:
        return load_station(folder), ()
    except StationFaults as told:
        return None, told.faults
