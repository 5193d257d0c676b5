"""`neckring fit`: the terminal, JSON, the page, and what is refused."""

from __future__ import annotations

import json
import re
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from rich.console import Console
from small_fits import DEMO, fit_of, wearer_with
from test_plan_page import Page
from tests.station.faulty import DIPPER, W1, Swap, write_demo

from neckring.fit_command import fit
from neckring.fitting.findings import WearerFit
from neckring.fitting.fit import fit_wearer
from neckring.outing.cautions import ALWAYS
from neckring.records import fit_words
from neckring.records.fit_json import fit_as_json
from neckring.records.fit_page import render_fit
from neckring.records.fit_picture import COLOURS, SPOTS, draw_fit
from neckring.records.fit_summary import print_fit
from neckring.station.fit import PLACES, Settings
from neckring.station.loading import load_station


def found_for(code: str) -> WearerFit:
    return fit_wearer(DEMO.station, DEMO.limits, DEMO.wearers[code], DEMO.suits.values())


@pytest.fixture(scope="module")
def w3() -> WearerFit:
    return found_for("W3")


@pytest.fixture(scope="module")
def page(w3: WearerFit) -> str:
    return render_fit(w3)


def run(folder: Path, *arguments: str) -> Result:
    return CliRunner().invoke(fit, [*arguments, "--station", str(folder)])


@pytest.fixture
def quarry(tmp_path: Path) -> Path:
    write_demo(tmp_path)
    return tmp_path


def test_the_terminal_names_the_best_suit_first_within_80_columns(quarry: Path) -> None:
    # Given the demo, and W1, whom Wagtail fits and Dipper does not
    report = quarry / "w1.html"
    told = run(quarry, "W1", "--report", str(report))
    # Then the best suit comes first, with what to begin with, and the page is written
    assert told.exit_code == 0, told.output
    lines = told.output.splitlines()
    assert lines[1].startswith("1. wagtail: TRY IT ON")
    assert any(line.startswith("2. dipper: DOES NOT FIT") for line in lines)
    assert "begin with: harness strap" in told.output
    assert "A fit on paper is no fit" in told.output
    assert max(map(len, lines)) <= 80
    assert told.output.isascii()
    assert report.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert list(quarry.glob(".*")) == []


def test_json_holds_the_fit_in_si_and_writes_no_page(quarry: Path) -> None:
    told = run(quarry, "W1", "wagtail", "--json")
    data = json.loads(told.output)
    (suit,) = data["suits"]
    assert (data["wearer"], suit["suit"], suit["outcome"]) == ("W1", "wagtail", "try it on")
    places = {one["place"]: one for one in suit["places"]}
    assert places["trunk"]["body"] == pytest.approx(1.575)
    assert places["hatch"]["most"] is None
    assert suit["load"]["carried"] == pytest.approx(12.5 + 8 + 0.35 + 1.6 + 0.8)
    assert set(data["cautions"]) >= set(ALWAYS)
    assert not list(quarry.glob("*.html"))


def test_the_lines_to_keep_are_lines_that_are_read_again(quarry: Path) -> None:
    # Given the suggested settings of W2, who has none yet, put into the file
    told = run(quarry, "W2", "--settings")
    lines = told.output.replace("YEAR-MONTH-DAY", "2026-12-01").replace("CODE", "T2")
    with (quarry / "wearers/W2.yaml").open("a", encoding="utf-8") as file:
        file.write(lines)
    # When the station is read again
    kept = load_station(quarry).wearers["W2"].settings["dipper"]
    # Then they stand there, and the next fit shows them beside its own
    assert isinstance(kept, Settings)
    data = json.loads(run(quarry, "W2", "dipper", "--json").output)
    settings = data["suits"][0]["settings"]
    assert all(one["kept"] == pytest.approx(one["value"]) for one in settings)
    assert data["suits"][0]["kept"]["by"] == "T2"


@pytest.mark.parametrize(
    ("arguments", "status"),
    [(("W1",), 0), (("W1", "dipper"), 1), (("W3",), 1), (("W2", "dipper"), 0)],
)
def test_strict_ends_with_one_unless_a_suit_may_be_tried_on(
    quarry: Path, arguments: tuple[str, ...], status: int
) -> None:
    assert run(quarry, *arguments, "--json", "--strict").exit_code == status


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (
            ("W11",),
            'no wearer has the code "W11"; accepted: W1, W2, W3, W4, W5, W6; did you mean W1?',
        ),
        (
            ("W1", "diper"),
            'no suit has the code "diper"; accepted: dipper, wagtail; did you mean dipper?',
        ),
    ],
)
def test_unknown_codes_are_told_with_the_nearest(
    quarry: Path, arguments: tuple[str, ...], message: str
) -> None:
    told = run(quarry, *arguments)
    assert told.exit_code == 2
    assert told.output.strip() == message


def test_a_station_with_a_fault_is_told_and_nothing_is_written(quarry: Path) -> None:
    Swap(W1, "height: 1.68 m", "height: 1.75 mm")(quarry)
    told = run(quarry, "W1", "--report", str(quarry / "w1.html"))
    assert told.exit_code == 2
    assert told.output.startswith('wearers/W1.yaml:5:9: height: read "1.75 mm"')
    assert 'did you mean "1.75 m"?' in told.output
    assert not (quarry / "w1.html").exists()


def test_a_page_that_cannot_be_written_is_told(quarry: Path) -> None:
    (quarry / "full").write_text("no folder", encoding="utf-8")
    told = run(quarry, "W1", "--report", str(quarry / "full" / "w1.html"))
    assert told.exit_code == 2
    assert "cannot write the report" in told.output


def test_a_suit_without_fit_is_named_and_a_measure_unlike_the_rest_is_told(quarry: Path) -> None:
    # Given Wagtail alone without a fit, and W3 with somebody else's shoulders
    path = quarry / DIPPER
    text = path.read_text(encoding="utf-8")
    path.write_text(text[: text.index("\nfit:")], encoding="utf-8")
    wagtail = quarry / "suits/wagtail.yaml"
    text = wagtail.read_text(encoding="utf-8")
    wagtail.write_text(text[: text.index("\nfit:")], encoding="utf-8")
    w1 = quarry / W1
    text = w1.read_text(encoding="utf-8")
    w1.write_text(text[: text.index("settings:")], encoding="utf-8")
    Swap("wearers/W3.yaml", "biacromial_breadth: 352 mm", "biacromial_breadth: 470 mm")(quarry)
    told = run(quarry, "W3", "--report", str(quarry / "w3.html"))
    assert told.exit_code == 0, told.output
    flat = " ".join(told.output.split())
    assert "CHECK measures.biacromial_breadth: read 470 mm" in flat
    assert flat.count("its file has no fit, so nothing can be said") == 2


def test_the_page_is_well_formed_and_needs_nothing_outside(page: str) -> None:
    read = Page(page)
    ids = [a["id"] for _, a in read.elements if "id" in a]
    assert len(ids) == len(set(ids))
    labels = [a["aria-labelledby"] for _, a in read.elements if "aria-labelledby" in a]
    assert set(" ".join(labels).split()) <= set(ids)
    for unwanted in ("http://", "https://", "url(", "<script", "{{", "None", "nan"):
        assert unwanted not in page, unwanted
    assert not [a for _, a in read.elements if "style" in a or "onload" in a]
    levels = [int(tag[1]) for tag, _ in read.elements if re.fullmatch("h[1-6]", tag)]
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_the_page_carries_every_caution_and_what_the_shares_stand_on(page: str) -> None:
    text = " ".join(Page(page).words)
    for sentence in (*fit_words.CAUTIONS, *ALWAYS):
        assert sentence in text
    assert "Invented data: this station" in text
    assert fit_words.SURVEY_WORDS in text
    assert fit_words.ASSUMED_TIES in text


def test_the_same_fit_gives_the_same_page(w3: WearerFit, page: str) -> None:
    assert render_fit(w3) == page


def test_every_verdict_differs_in_shape_and_in_word_not_only_in_colour(w3: WearerFit) -> None:
    # Given the picture of a suit in which every verdict occurs
    one = next(suit for suit in w3.suits if suit.suit == "dipper")
    assert {each.verdict for each in one.clearances} == set(COLOURS)
    drawing = draw_fit(one)
    read = Page(drawing.svg)
    # When the badges are counted by their shape
    borders = {colour: verdict for verdict, colour in COLOURS.items()}
    shapes: dict[str, set[str]] = {}
    for tag, attributes in read.elements:
        if attributes.get("fill") == "#ffffff" and attributes.get("stroke") in borders:
            shapes.setdefault(borders[attributes["stroke"]], set()).add(tag)
    # Then each verdict has a shape of its own, twice for each place: on the body and in its strip
    assert shapes == {"fits": {"circle"}, "in doubt": {"polygon"}, "does not fit": {"rect"}}
    words = "".join(read.words)
    for each in one.clearances:
        assert fit_words.place_words(each) in words
        assert each.verdict in words
    # And told in words, the picture says as much
    assert drawing.words.count(" mm left, ") == len(one.clearances)


def brightness(colour: str) -> float:
    """Relative luminance of a colour, as WCAG 2 defines it."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_a_place_that_does_not_fit_is_darker_than_paper_in_grey_too() -> None:
    for colour in COLOURS.values():
        assert 1.05 / (brightness(colour) + 0.05) > 2.0


def test_every_place_has_a_spot_on_the_outline() -> None:
    assert set(SPOTS) == set(PLACES)


def test_hostile_words_stay_words(capsys: pytest.CaptureFixture[str]) -> None:
    # Given a suit whose words would be markup, and would steer a terminal
    evil = "<script>alert(1)</script>\x1b[2J"
    hostile = fit_of(
        {
            "places": {"trunk": {"room": "1700 mm", "least": "0 mm", "most": "60 mm"}},
            "adjusters": {
                "a": {
                    "words": evil, "kind": "strap", "from": "0 mm", "to": "20 mm",
                    "step": "10 mm", "acts_on": {"trunk": "1"},
                }
            },
            "reach": [evil],
        }
    )  # fmt: skip
    suit = DEMO.suits["dipper"].model_copy(update={"fit": hostile, "name": evil})
    found = fit_wearer(DEMO.station, DEMO.limits, wearer_with("W2"), [suit])
    # Then the page holds them as text, and the terminal loses the escape
    page = render_fit(found)
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    print_fit(found, Console(width=80, force_terminal=False))
    assert "\x1b" not in capsys.readouterr().out


def test_a_suit_with_too_many_settings_is_fitted_and_says_what_it_lacks() -> None:
    fine: dict[str, Any] = {
        "words": "strap", "kind": "strap", "from": "0 mm", "to": "59 mm", "step": "1 mm",
        "acts_on": {"trunk": "1"},
    }  # fmt: skip
    many = fit_of(
        {
            "places": {"trunk": {"room": "1600 mm", "least": "0 mm", "most": "40 mm"}},
            "adjusters": dict.fromkeys("abc", fine),
        }
    )
    suit = DEMO.suits["dipper"].model_copy(update={"fit": many})
    found = fit_wearer(DEMO.station, DEMO.limits, DEMO.wearers["W2"], [suit])
    assert found.accepted["dipper"] == ()
    assert fit_words.NOT_COUNTED in render_fit(found)
    assert fit_as_json(found)["suits"][0]["accepted"] == []  # type: ignore[call-overload,index]
