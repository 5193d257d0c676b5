"""From the data of a sheet to its PDF: one press for all sheets, the same bytes for the same data.

What people wrote goes to the typesetter as data, never as part of its program, so that nothing
in a station's file can be taken for an order to it.
"""

from __future__ import annotations

import dataclasses
import datetime
import json
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from neckring.records.letter_height import ACT_SIZE, LINE_SIZE

if TYPE_CHECKING:
    from typst import Compiler, Fonts

TEMPLATES = Path(__file__).parent / "templates"
SCALES = (1.0, 0.94, 0.88, 0.82)
"""Sizes of type that are tried for a sheet of one page; smaller ones could not be read."""


class TooLongError(Exception):
    """A sheet of one page does not fit it, not even in the smallest type that can be read."""


class CannotPrintError(Exception):
    """Letters that the type of the sheets does not have.

    Attributes:
        letters: Each once.
    """

    def __init__(self, letters: str) -> None:
        super().__init__(letters)
        self.letters = letters


@dataclasses.dataclass(frozen=True)
class Head:
    """What stands at the head and the foot of every sheet.

    Attributes:
        station: Its name.
        invented: Whether its data are made up.
        title: Of the sheet.
        kind: What sort of sheet it is.
        marks: What tells one printing from another: code, digest.
        date: Of the printing.
        version: Of neckring.
    """

    station: str
    invented: bool
    title: str
    kind: str
    marks: str
    date: str
    version: str


def pressed(template: str, sheet: object, date: datetime.date, scale: float = 1.0) -> bytes:
    """Print a sheet.

    Args:
        template: Name of the template, without its ending.
        sheet: A frozen record.
        date: Of the printing.
        scale: Of the type.

    Returns:
        The PDF: tagged, for screen readers; the same for the same sheet on the same day.
    """
    made = _compiler(template, sheet, scale).compile(
        format="pdf", timestamp=_noon(date), pdf_standards=["ua-1"]
    )
    assert isinstance(made, bytes)
    return made


def pressed_on_one_page(template: str, sheet: object, date: datetime.date) -> bytes:
    """Print a sheet on one page, in smaller type where it must be.

    Raises:
        TooLongError: It does not fit.
    """
    for scale in SCALES:
        if page_count(template, sheet, scale) == 1:
            return pressed(template, sheet, date, scale)
    raise TooLongError


def page_count(template: str, sheet: object, scale: float = 1.0) -> int:
    """How many pages a sheet takes."""
    return int(told_by(template, sheet, "<pages>", scale)[0])


def told_by(template: str, sheet: object, mark: str, scale: float = 1.0) -> list[Any]:
    """What a sheet says of itself: how many pages, where its labels lie."""
    told: list[Any] = json.loads(_compiler(template, sheet, scale).query(mark, field="value"))
    return told


def _compiler(template: str, sheet: object, scale: float) -> Compiler:
    from typst import Compiler

    assert dataclasses.is_dataclass(sheet)
    assert not isinstance(sheet, type)
    data = json.dumps(dataclasses.asdict(sheet), ensure_ascii=False)
    refuse_unknown_letters(data)
    return Compiler(
        TEMPLATES / f"{template}.typ",
        root=TEMPLATES,
        font_paths=_fonts(),
        sys_inputs={
            "data": data,
            "scale": str(scale),
            "act": str(ACT_SIZE),
            "line": str(LINE_SIZE),
        },
    )


def refuse_unknown_letters(text: str) -> None:
    """A letter that the type does not have would be printed as an empty box.

    Raises:
        CannotPrintError: There are such letters.
    """
    unknown = sorted(set(text) - _letters())
    if unknown:
        raise CannotPrintError("".join(unknown))


def font_file(name: str) -> Path:
    """A file of DejaVu Sans, as it comes with matplotlib."""
    from matplotlib import get_data_path

    return Path(get_data_path()) / "fonts" / "ttf" / f"{name}.ttf"


@lru_cache(maxsize=1)
def _letters() -> frozenset[str]:
    """Letters that both weights have."""
    from matplotlib.ft2font import FT2Font

    plain, bold = (FT2Font(str(font_file(name))) for name in ("DejaVuSans", "DejaVuSans-Bold"))
    return frozenset(map(chr, plain.get_charmap().keys() & bold.get_charmap().keys()))


@lru_cache(maxsize=1)
def _fonts() -> Fonts:
    """DejaVu Sans and nothing of the machine's own, so that sheets are the same everywhere."""
    from typst import Fonts

    return Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[str(font_file("DejaVuSans").parent)],
    )


def _noon(date: datetime.date) -> datetime.datetime:
    return datetime.datetime.combine(date, datetime.time(12), tzinfo=datetime.UTC)
