"""The words of the house hold: pages name what is there, and what they tell to type works."""

from __future__ import annotations

import importlib.util
import os
import re
import shlex
import tomllib
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from pydantic import BaseModel

from neckring import lanes
from neckring.body.calibration import DILATION_GAIN, SEATED_REST, SWEAT_GAIN
from neckring.cli import main
from neckring.outing.kernel import RECORD_ROWS
from neckring.outing.trace import columns
from neckring.records.presentation import presentation_of
from neckring.station.limits import LIMITED
from neckring.station.loading import MODELS

HOUSE = Path(__file__).parents[2]
PACKAGE = HOUSE / "src" / "neckring"
PAGES = (
    "README.md",
    "ARCHITECTURE.md",
    "CONTRIBUTING.md",
    "docs/vocabulary.md",
    "docs/decisions.md",
)
LOCKS = ("requirements.lock", "requirements-dev.lock", "requirements-pip.lock")
# Where a path that a page names may start: the house, the package, a station.
STARTS = (HOUSE, PACKAGE, PACKAGE / "station" / "demo")
MADE = ("build/", "quarry", "pages/", "schemas", "mystation")


def read(name: str) -> str:
    return (HOUSE / name).read_text(encoding="utf-8")


def modules() -> list[str]:
    found = (path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py"))
    return sorted(name for name in found if not name.endswith("__init__.py"))


def paths_named(text: str) -> set[str]:
    """Paths in backticks: with a slash inside or a file's ending, without spaces."""
    quoted = re.findall(r"`([\w./*-]+)`", text)
    ending = re.compile(r"\.(py|md|yaml|toml|json|j2|css|txt|lock|png)$")
    return {
        word
        for word in quoted
        if word[0] != "/" and (ending.search(word) or re.search(r"\w/(\w|$|\*)", word))
    }


def exists(path: str) -> bool:
    return any(any(start.glob(path.rstrip("/"))) for start in STARTS)


def test_the_page_of_modules_says_of_each_what_it_says_of_itself() -> None:
    listing = importlib.util.spec_from_file_location(
        "list_modules", HOUSE / "scripts" / "list_modules.py"
    )
    assert listing is not None
    assert listing.loader is not None
    made = importlib.util.module_from_spec(listing)
    listing.loader.exec_module(made)
    assert read("docs/modules.md") == made.page()
    rows = {row.split("`")[1] for row in made.page().splitlines() if row.startswith("| `")}
    assert rows == set(modules())


@pytest.mark.parametrize("page", PAGES)
def test_every_path_a_page_names_is_there(page: str) -> None:
    named = {path for path in paths_named(read(page)) if not path.startswith(MADE)}
    no_paths = {"W/K", "m3/s", "1/s", "kg/s", "J/kg", "W/K/kg", "W/m2"}
    missing = sorted(path for path in named - no_paths if not exists(path))
    assert named or page.startswith("docs/")
    assert missing == []


@pytest.mark.parametrize("page", PAGES)
def test_every_link_leads_somewhere(page: str) -> None:
    targets = re.findall(r"\]\(([^)#]+)\)", read(page))
    assert [t for t in targets if not (HOUSE / page).parent.joinpath(t).exists()] == []


@pytest.mark.parametrize("page", ["README.md", "CONTRIBUTING.md"])
def test_every_make_target_a_page_names_is_in_the_makefile(page: str) -> None:
    targets = set(re.findall(r"^([a-z]+):", read("Makefile"), re.MULTILINE))
    named = set(re.findall(r"(?:^|`)make ([a-z]+)", read(page), re.MULTILINE))
    assert named
    assert named <= targets


def test_every_make_target_is_explained() -> None:
    phony = re.search(r"^\.PHONY: (.*)$", read("Makefile"), re.MULTILINE)
    assert phony is not None
    assert [t for t in phony.group(1).split() if f"make {t} " not in read("CONTRIBUTING.md")] == []


SERVING = ("console", "rehearse", "listen", "report", "calibrate", "log")
"""Commands that go on until somebody ends them, or that need what a run has left."""
SOAK = os.environ.get("NECKRING_SOAK") == "1"
FEW = ("--members", "100")
"""For commands that draw members and say not how many; `make soak` types them to the letter."""


def commands_in(page: str) -> list[str]:
    return re.findall(r"^neckring [^#\n]+", read(page), re.MULTILINE)


def test_commands_of_a_day_are_told_with_options_that_they_have() -> None:
    typed = [shlex.split(line) for line in commands_in("README.md")]
    serving = [words for words in typed if words[1] in SERVING]
    assert {words[1] for words in serving} == set(SERVING)
    for words in serving:
        told = CliRunner().invoke(main, [words[1], "--help"]).output
        for option in (word for word in words if word.startswith("--")):
            assert f"{option} " in told, words


def few_members(words: list[str]) -> tuple[str, ...]:
    draws = words[1] in ("plan", "compare") and "--members" not in words
    return FEW if draws and not SOAK else ()


def test_what_the_readme_tells_to_type_works(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Given an empty folder
    monkeypatch.chdir(tmp_path)
    typed = [shlex.split(line) for line in commands_in("README.md")]
    commands = [words for words in typed if words[1] not in SERVING]
    assert len(commands) >= 8

    # When each command is typed, from top to bottom
    ends = {
        " ".join(words): CliRunner().invoke(main, [*words[1:], *few_members(words)])
        for words in commands
    }

    # Then each works; only --strict may say that a run is not to go
    for typed, end in ends.items():
        accepted = (0, 1) if "--strict" in typed else (0,)
        assert end.exit_code in accepted, f"{typed}: {end.output}"
    for written in ("floor-survey.html", "pages/climb.html", "schemas/run.schema.json"):
        assert (tmp_path / written).stat().st_size > 1000


def test_the_vocabulary_has_every_column_of_the_trace_with_its_unit() -> None:
    # Given the columns that a plan really makes
    one, records = np.ones(1), np.full((1, RECORD_ROWS, 1), 30.0)
    made = set(columns(records, one, 1e5 * one, one, one)) | {"metabolic_rate"}

    # When the first table of the vocabulary is read
    table = read("docs/vocabulary.md").split("## What a plan says")[0]
    rows = re.findall(r"^\| ([^|]+?)( \*)? \| `(\w+)` \| [^|]+ \| ([^|]+) \|", table, re.MULTILINE)
    units = {name: unit for _, _, name, unit in rows}

    # Then it has just these, in the units of the JSON, and marks what may be limited
    assert set(units) == made
    known = {name: presentation_of(name).si_unit or units[name] for name in made}
    assert units == known
    assert {name for _, star, name, _ in rows if star} == set(LIMITED)


def test_the_kernel_rows_of_the_vocabulary_are_rows_of_the_kernel() -> None:
    table = read("docs/vocabulary.md").split("## Rows of the kernel")[1]
    named = set(re.findall(r"`([A-Z][A-Z0-9_]+)`", table))
    assert len(named) > 20
    assert [name for name in sorted(named) if not hasattr(lanes, name)] == []


def keys_of(model: type[BaseModel]) -> set[str]:
    """Keys of a kind of file that hold one value, with those of its groups."""
    found = set()
    for name, field in model.model_fields.items():
        groups = [part for part in _parts(field.annotation) if issubclass(part, BaseModel)]
        for group in groups:
            found |= keys_of(group)
        found |= set() if groups else {name}
    return found


def _parts(annotation: object) -> list[type]:
    inner = getattr(annotation, "__args__", ())
    if isinstance(annotation, type) and not inner:
        return [annotation]
    return [part for each in inner for part in _parts(each)]


def test_keys_that_nothing_is_computed_with_are_admitted() -> None:
    # Given every key people write but titles, and all code that could compute with it
    computing = [path for path in PACKAGE.rglob("*.py") if "station" not in path.parts]
    code = "\n".join(path.read_text(encoding="utf-8") for path in computing)
    words = {"about", "example", "extends", "reaches", "timezone", "per_year_of_age", "note"}
    keys = keys_of(MODELS["suit"]) | keys_of(MODELS["wearer"]) | keys_of(MODELS["station"])
    keys |= keys_of(MODELS["run"])

    # When those are sought that no code outside the reading names
    unused = {key for key in keys - words if not re.search(rf'\.{key}\b|"{key}"', code)}

    # Then README.md admits just these
    admitted = read("README.md").split("## What it does not know yet")[1].split("\n## ")[0]
    assert {key for key in keys if f"`{key}`" in admitted} == unused


def test_decisions_quote_the_calibration_that_is_in_force() -> None:
    said = read("docs/decisions.md")
    assert f"sweat {SWEAT_GAIN:g}, skin dilation {DILATION_GAIN:g}" in said
    assert f"seated rest is {SEATED_REST:g} of the basal rate" in said


@pytest.mark.parametrize("lock", LOCKS)
def test_locks_pin_every_package_by_hash_and_name_no_index(lock: str) -> None:
    text = read(lock)
    entries = re.split(r"\n(?=\S)", "\n".join(x for x in text.splitlines() if x[:1] != "#"))
    assert entries
    assert [entry[:40] for entry in entries if not re.match(r"[\w.-]+==\S+", entry)] == []
    assert [entry[:40] for entry in entries if "--hash=sha256:" not in entry] == []
    assert not re.search(r"https?:|--(extra-)?index-url|--find-links", text)


def test_locks_hold_every_dependency_that_is_declared() -> None:
    project = tomllib.loads(read("pyproject.toml"))["project"]
    for lock, wanted in (
        ("requirements.lock", project["dependencies"]),
        ("requirements-dev.lock", project["optional-dependencies"]["dev"]),
    ):
        locked = set(re.findall(r"^([\w.-]+)==", read(lock), re.MULTILINE))
        names = {re.split(r"[<>=~!;\[ ]", each)[0].lower().replace(".", "-") for each in wanted}
        assert names <= {name.lower().replace(".", "-") for name in locked}


def test_both_locks_agree() -> None:
    pins = [dict(re.findall(r"^([\w.-]+)==(\S+)", read(lock), re.MULTILINE)) for lock in LOCKS[:2]]
    assert {name: pins[1].get(name) for name in pins[0]} == pins[0]


def test_import_contracts_place_every_room_and_module() -> None:
    # A new top-level module must be given its place, or the arrows do not hold for it.
    linter = tomllib.loads(read("pyproject.toml"))["tool"]["importlinter"]
    layers = next(c["layers"] for c in linter["contracts"] if c["type"] == "layers")
    placed = {name.strip().removeprefix("neckring.") for row in layers for name in row.split("|")}
    rooms = {path.stem for path in PACKAGE.iterdir() if path.name != "__pycache__"}
    assert rooms - {"__init__", "py"} == placed


def test_the_picture_is_there_and_small() -> None:
    picture = HOUSE / "docs" / "pictures" / "plan.png"
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert picture.stat().st_size <= 250_000
