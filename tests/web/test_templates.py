"""A console that runs shows the pages that it began with, whatever is put in place under it."""

from __future__ import annotations

from pathlib import Path

import pytest

from neckring.web import page_templates

TEMPLATES = Path(page_templates.__file__).parent / "templates"


def test_templates_are_read_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Given templates, one of them in a folder within
    (tmp_path / "templates" / "parts").mkdir(parents=True)
    for name in ("page.html.j2", "parts/step.html.j2"):
        (tmp_path / "templates" / name).write_text("as it was", encoding="utf-8")
    monkeypatch.setattr(page_templates, "files", lambda _package: tmp_path)
    made = page_templates.environment.__wrapped__()
    # When they are replaced before they were ever asked for
    for name in made.list_templates():
        (tmp_path / "templates" / name).write_text("half of a newer one", encoding="utf-8")
    # Then pages stay as they were
    assert made.list_templates() == ["page.html.j2", "parts/step.html.j2"]
    for name in made.list_templates():
        assert made.get_template(name).render() == "as it was"


def test_every_template_of_the_console_can_be_compiled() -> None:
    made = page_templates.environment()
    names = {str(path.relative_to(TEMPLATES)) for path in TEMPLATES.rglob("*.j2")}
    assert set(made.list_templates()) == names
    for name in sorted(names):
        made.get_template(name)
