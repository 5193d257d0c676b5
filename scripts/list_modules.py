"""Write docs/modules.md: every module with its first line, room by room."""

from __future__ import annotations

import ast
from pathlib import Path

HOUSE = Path(__file__).parents[1]
PACKAGE = HOUSE / "src" / "neckring"
PAGE = HOUSE / "docs" / "modules.md"
HEAD = """# Every module, in one line

Written by `scripts/list_modules.py` from the first line of each module. How they hang together, and
where to start, is in [ARCHITECTURE.md](../ARCHITECTURE.md).
"""


def first_line(path: Path) -> str:
    """What a module says of itself."""
    told = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    if not told:
        raise ValueError(f"{path} says nothing of itself")
    return told.splitlines()[0].rstrip(".")


def rooms() -> dict[Path, list[Path]]:
    """Folder to its modules; the package's own first."""
    found: dict[Path, list[Path]] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        found.setdefault(path.parent, []).append(path)
    return dict(sorted(found.items()))


def page() -> str:
    """The whole page."""
    parts = [HEAD]
    for folder, modules in rooms().items():
        inside = folder.relative_to(PACKAGE).as_posix()
        name = "neckring/" if inside == "." else f"{inside}/"
        about = first_line(folder / "__init__.py")
        rows = [
            f"| `{path.relative_to(PACKAGE).as_posix()}` | {first_line(path)} |"
            for path in modules
            if path.name != "__init__.py"
        ]
        parts.append(
            f"\n## {name}\n\n{about}.\n\n| module | one line |\n|---|---|\n"
            + "\n".join(rows)
            + "\n"
        )
    return "".join(parts)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
