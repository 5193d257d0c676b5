"""The demo station's sheets, and public programs that read PDFs back."""

from __future__ import annotations

import datetime
import re
import shutil
import subprocess
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import neckring.station
from neckring.live.sheet_steps import SheetProcedure, listed_once, sheet_procedure
from neckring.records.sheet_press import Head
from neckring.station.loading import LoadedStation, load_station

DAY = datetime.date(2026, 11, 28)
DEMO = Path(neckring.station.__file__).parent / "demo"
HEAD = Head("Tarn Quarry", True, "a title", "a kind", "marks", DAY.isoformat(), "0")


def needs(program: str) -> pytest.MarkDecorator:
    return pytest.mark.skipif(shutil.which(program) is None, reason=f"{program} is not installed")


@lru_cache(maxsize=1)
def demo() -> LoadedStation:
    return load_station(DEMO)


@lru_cache(maxsize=32)
def procedure_of(code: str) -> SheetProcedure:
    made = listed_once(demo().procedures, demo().kits)(code)
    return sheet_procedure(made, made.ground)


def run(program: list[str], given: bytes) -> bytes:
    return subprocess.run(program, input=given, capture_output=True, check=True).stdout


def text_of(pdf: bytes) -> str:
    """The text in the order in which it was set, without any space."""
    return bare(run(["pdftotext", "-raw", "-", "-"], pdf).decode())


def bare(text: str) -> str:
    return re.sub(r"\s+", "", text.replace("ﬂ", "fl").replace("ﬁ", "fi"))


def word_boxes(pdf: bytes) -> list[tuple[int, float, float, float, float, str]]:
    """Page, left, top, right, bottom [points] and word, each word where it stands."""
    told = run(["pdftotext", "-bbox", "-", "-"], pdf).decode()
    found, page = [], 0
    for line in told.splitlines():
        page += "<page " in line
        box = re.search(
            r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*)</word>', line
        )
        if box:
            left, top, right, bottom = map(float, box.groups()[:4])
            found.append((page, left, top, right, bottom, box.group(5)))
    return found


def pages_of(pdf: bytes) -> int:
    return max(box[0] for box in word_boxes(pdf))


def picture(pdf: bytes, tmp_path: Path, dots: int, page: int = 1) -> np.ndarray:
    """A page in grey, 0 is black; shape (rows, columns)."""
    (tmp_path / "sheet.pdf").write_bytes(pdf)
    subprocess.run(
        ["pdftoppm", "-r", str(dots), "-gray", "-singlefile", "-f", str(page), "-l", str(page),
         "-png", str(tmp_path / "sheet.pdf"), str(tmp_path / "sheet")],
        check=True,
    )  # fmt: skip
    return np.asarray(Image.open(tmp_path / "sheet.png").convert("L"))
