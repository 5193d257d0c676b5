"""Label sheets: held before a mirror, measured with a rule, and refused with a place."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from printed import DAY, DEMO, HEAD, bare, demo, needs, picture, text_of, word_boxes

from neckring.records.letter_height import label_height, letter_height
from neckring.records.sheet_labels import (
    PALETTE,
    WIDEST,
    in_lines,
    label_faults,
    label_sheet,
    text_width,
)
from neckring.records.sheet_press import pressed, told_by
from neckring.station.fault import StationFaults
from neckring.station.loading import load_station

DOTS = 300
MILLIMETRE = DOTS / 25.4
STRIP = 4.8


@pytest.fixture(scope="module")
def sheet():
    return label_sheet(demo().kits["dipper"], HEAD)


@pytest.fixture(scope="module")
def page(sheet, tmp_path_factory) -> np.ndarray:
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed")
    return picture(pressed("sheet_labels", sheet, DAY), tmp_path_factory.mktemp("labels"), DOTS)


@pytest.fixture(scope="module")
def spots(sheet) -> dict[tuple[str, str], dict]:
    return {(one["name"], one["side"]): one for one in told_by("sheet_labels", sheet, "<spot>")}


def cut(page: np.ndarray, spot: dict, without_marks: bool = True) -> np.ndarray:
    """A label, cut out; without the strip at its lower edge that says for whom it is."""
    strip = STRIP if without_marks else 0.0
    left, top = spot["x"], spot["y"]
    right, bottom = left + spot["width"], top + spot["height"] - strip
    edges = [round(each * MILLIMETRE) for each in (top, bottom, left, right)]
    return page[edges[0] : edges[1], edges[2] : edges[3]]


def unlike(one: np.ndarray, other: np.ndarray) -> float:
    """Share of points in which two pictures differ, laid on one another as well as can be."""
    rows, columns = np.minimum(one.shape, other.shape) - 4
    middle = other[2 : 2 + rows, 2 : 2 + columns].astype(int)
    shifts = [(down, right) for down in range(1, 4) for right in range(1, 4)]
    return min(
        float((np.abs(one[d : d + rows, r : r + columns] - middle) > 128).mean()) for d, r in shifts
    )


def read_aloud(page: np.ndarray, tmp_path: Path) -> str:
    """What a public reader of letters makes of a picture."""
    # Dark letters on a light ground, with a rim: what it was made for.
    Image.fromarray(np.pad(255 - page, 60, constant_values=255)).save(tmp_path / "label.png")
    told = subprocess.run(
        ["tesseract", str(tmp_path / "label.png"), "-", "--psm", "7"],
        capture_output=True,
        check=True,
        text=True,
    )
    return bare(told.stdout)


def test_mirrored_label_in_a_mirror_is_its_copy(sheet, page, spots) -> None:
    # given the printed page
    mirrored = [each.name for each in sheet.labels if each.mirrored]
    assert mirrored
    for name in mirrored:
        here, copy = (cut(page, spots[name, side]) for side in ("mirrored", "plain"))
        # when the mirrored one is held before a mirror
        # then it is its copy but for the edges of letters, and as printed it is not
        assert unlike(here[:, ::-1], copy) < 0.01, name
        assert unlike(here, copy) > 0.04, name


def test_folded_along_its_middle_one_covers_the_other(sheet, page, spots) -> None:
    # given where the copies lie: as far left of the middle as right of it
    middle = 297.0 / 2.0
    for each in sheet.labels:
        if each.mirrored:
            here, copy = spots[each.name, "mirrored"], spots[each.name, "plain"]
            assert middle - (here["x"] + here["width"]) == pytest.approx(
                copy["x"] - middle, abs=0.05
            )
            assert here["y"] == pytest.approx(copy["y"], abs=0.05)


@needs("tesseract")
def test_mirrored_label_reads_as_text_in_a_mirror(sheet, page, spots, tmp_path) -> None:
    for each in sheet.labels:
        written = bare("".join(each.lines))
        if each.mirrored:
            here = cut(page, spots[each.name, "mirrored"])
            # when read in a mirror, then it says what was written; without one it does not
            assert read_aloud(here[:, ::-1], tmp_path) == written
            assert read_aloud(here, tmp_path) != written
        copy = cut(page, spots[each.name, "plain"])
        assert read_aloud(copy, tmp_path) == written


def test_letters_on_paper_are_as_high_as_was_worked_out(sheet, page, spots) -> None:
    for each in sheet.labels:
        # The edge of the cut may hold a line of the paper.
        copy = cut(page, spots[each.name, "plain"])[3:, 3:-3]
        white = np.flatnonzero((copy > 128).any(axis=1))
        measured = (white[-1] - white[0] + 1) / MILLIMETRE
        # round letters reach a little beyond the flat ones, above and below
        assert measured == pytest.approx(each.millimetres, rel=0.05, abs=0.1), each.name


def test_marks_of_mirror_and_eye_differ_and_are_the_same_in_a_mirror(sheet, page, spots) -> None:
    marks = {}
    for side in ("mirrored", "plain"):
        whole = cut(page, spots["helmet_mark", side], without_marks=False)
        strip = whole[-round(STRIP * MILLIMETRE) :]
        columns = np.flatnonzero((strip > 128).any(axis=0))
        rows = np.flatnonzero((strip > 128).any(axis=1))
        mark = strip[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1] > 128
        marks[side] = mark
        assert (mark != mark[:, ::-1]).mean() < 0.06
    assert abs(marks["mirrored"].shape[1] - marks["plain"].shape[1]) > MILLIMETRE


@needs("pdftotext")
def test_tags_say_letter_connector_and_colour_and_that_standards_disagree(sheet) -> None:
    text = text_of(pressed("sheet_labels", sheet, DAY))
    for tag in sheet.tags:
        assert bare(f"fits only: {tag.connector}") in text
        assert bare(" ".join(tag.lines)) in text
        assert tag.colour.replace(" ", "") in text
        assert tag.paint == PALETTE[tag.colour]
    assert bare("standards contradict one another") in text


@needs("pdftotext")
def test_tag_grows_with_its_words(sheet) -> None:
    # given a tag with as many and as high words as are accepted
    (first, *_) = sheet.tags
    tall = replace(
        first, lines=("WWWW", "WWWW", "WWWW"), millimetres=9.0, connector="W " * 20, copies=1
    )
    short = replace(first, letter="Z", copies=1)
    boxes = word_boxes(pressed("sheet_labels", replace(sheet, tags=(tall, short), labels=()), DAY))
    # then the next tag begins below all of them
    tops = [top for _, _, top, _, _, word in boxes if word == "Z"]
    lows = [bottom for _, _, _, _, bottom, word in boxes if word in ("WWWW", "W")]
    assert max(lows) < tops[0] + 60
    assert len(tops) == 1
    assert sum(word == "WWWW" for *_, word in boxes) == 3


@given(
    st.lists(st.text("ABCKLMWI 0128", min_size=1, max_size=9), min_size=1, max_size=6),
    st.floats(0.002, 0.02),
)
def test_words_in_lines_lose_nothing_and_fit(words, height) -> None:
    text = " ".join(" ".join(words).split())
    lines = in_lines(text, height, WIDEST)
    if lines is None:
        assert any(text_width(word, height) > WIDEST for word in text.split())
    else:
        assert " ".join(lines).split() == text.split()
        assert all(text_width(line, height) <= WIDEST for line in lines)


@given(st.floats(0.1, 10.0), st.floats(1.0, 60.0))
def test_height_grows_with_distance_and_is_never_rounded_down(distance, more) -> None:
    assert letter_height(distance * (1 + more)) > letter_height(distance)
    exact = letter_height(distance)
    printed = label_height(distance, "air")
    assert exact - 1e-12 <= printed < exact + 0.5e-3 + 1e-12
    assert label_height(distance, "curved or fogged visor") >= 2.0 * exact - 1e-12


def changed(tmp_path: Path, *changes: tuple[str, str]) -> Path:
    """The demo, with something in its kit written otherwise."""
    folder = tmp_path / "station"
    shutil.copytree(DEMO, folder)
    kit = folder / "kits" / "dipper.yaml"
    text = kit.read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    kit.write_text(text, encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("text: LOCK", "text: Lock", 'labels.helmet_mark.text: read "Lock"; accepted: up to 30'),
        ("letter: W", "letter: w", 'tags.warm.letter: read "w"; accepted: one capital'),
        ("letter: W", "letter: C", 'tags.warm.letter: read "C"; accepted: a letter that no'),
        ("shape: triangle down", "shape: triangle up", "tags.warm.shape: read"),
        ("8 mm plug", "8 mm socket", "tags.warm.connector: read"),
        ("on: visor,", "on: vizor,", 'labels.visor_mark.on: read "vizor"; accepted: a thing of'),
        ("colour: vermillion", "colour: red", 'tags.warm.colour: read "red"; accepted: black'),
        ("distance: 0.6 m", "distance: 0.6", "labels.visor_mark.distance: read"),
    ],
)  # fmt: skip
def test_wrong_label_is_answered_with_its_place(tmp_path, old, new, said) -> None:
    folder = changed(tmp_path, (old, new))
    with pytest.raises(StationFaults) as told:
        load_station(folder)
    (fault,) = told.value.faults
    assert said in str(fault)
    lines = (folder / "kits" / "dipper.yaml").read_text(encoding="utf-8").splitlines()
    assert fault.file == "kits/dipper.yaml"
    # The place is that of what was read.
    read = fault.read.split('"')[1]
    assert lines[fault.line - 1][fault.column - 1 :].startswith(read)


def test_label_that_does_not_fit_its_paper_is_answered_with_its_place(tmp_path) -> None:
    # given a label that is to be read from so far that its letters are too large
    folder = changed(tmp_path, ("distance: 0.6 m", "distance: 9 m"))
    station = load_station(folder)
    (tree,) = [t for t in station.trees["kit"].values() if t.text_of("code") == "dipper"]
    (fault,) = label_faults(station.kits["dipper"], tree)
    assert fault.field == "labels.visor_mark.text"
    assert "52.5 mm high" in fault.accepted
