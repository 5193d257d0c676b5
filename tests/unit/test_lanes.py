"""The kernel's layout: every row has its own place, and the compile cache sees every change."""

from __future__ import annotations

import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from neckring import compiled, lanes

ARRAYS = ("STATE", "BODY", "AROUND", "WHOLE", "TRAITS", "SPELL")
SOURCE = Path(lanes.__file__).read_text(encoding="utf-8")


def rows_of(array: str) -> list[str]:
    block = re.search(rf"\(([^()]*)\) = range\(0, {array}_SIZE, LANES\)", SOURCE)
    assert block is not None
    return [word.strip() for word in block[1].split(",") if word.strip()]


@pytest.mark.parametrize("array", ARRAYS)
def test_rows_fill_their_array_without_gap_or_overlap(array: str) -> None:
    places = [getattr(lanes, row) for row in rows_of(array)]
    assert places == list(range(0, getattr(lanes, f"{array}_SIZE"), lanes.LANES))


def test_no_name_stands_for_rows_of_two_arrays() -> None:
    counted = Counter(row for array in ARRAYS for row in rows_of(array))
    assert [row for row, times in counted.items() if times > 1] == []


def test_segments_are_named_and_counted() -> None:
    assert len(lanes.SEGMENT_NAMES) == lanes.SEGMENTS == lanes.HEART
    assert len(set(lanes.SEGMENT_NAMES)) == lanes.SEGMENTS


@pytest.mark.parametrize("file", ["lanes.py", "constants.py", "suit/gas.py", "outing/kernel.py"])
def test_a_change_of_a_compiled_source_names_another_cache(
    file: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Given a copy of the sources
    for source in compiled.PACKAGE_FOLDER.rglob("*.py"):
        copy = tmp_path / source.relative_to(compiled.PACKAGE_FOLDER)
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_bytes(source.read_bytes())
    monkeypatch.setattr(compiled, "PACKAGE_FOLDER", tmp_path)
    before = compiled._source_fingerprint()

    # When one of them changes
    with (tmp_path / file).open("a", encoding="utf-8") as source:
        source.write("\n# changed\n")

    # Then stale machine code cannot be taken for it
    assert compiled._source_fingerprint() != before


def test_a_cache_folder_that_cannot_be_written_is_replaced(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", "/proc/nowhere")
    compiled.cache_folder.cache_clear()
    try:
        folder = compiled.cache_folder()
        assert folder.is_dir()
        assert "proc" not in folder.parts
    finally:
        compiled.cache_folder.cache_clear()


def test_kernels_are_cached_in_our_folder_even_when_numba_came_first() -> None:
    # Given a process that imports numba before anything of ours
    program = (
        "import numba, neckring.arithmetic as a; from neckring.compiled import cache_folder;"
        "a.exponential(1.0);"
        "import sys; sys.exit(0 if numba.config.CACHE_DIR == str(cache_folder()) else 1)"
    )

    # Then no machine code is kept beside the sources, where changed callees would go unseen
    subprocess.run([sys.executable, "-c", program], check=True)
    assert list(compiled.PACKAGE_FOLDER.rglob("*.nbi")) == []
