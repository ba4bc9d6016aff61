"""The import table of DEVELOPERS.md holds for every file of `lesson/`, and this check can fail."""

from __future__ import annotations

import ast
import re
import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
EVERYTHING = "every row above"


@dataclass(frozen=True)
class Row:
    """One row of the table: the rooms it names (`lesson/read`, `lesson/model.py`) and the rooms they may import."""

    rooms: tuple[str, ...]
    may: tuple[str, ...]


def import_table(text: str) -> list[Row]:
    """The rows of the table headed `| room | holds | may import |`, with allowed names resolved to rooms."""
    lines = text.splitlines()
    start = next(i for i, line in enumerate(lines) if re.fullmatch(r"\| *room *\| *holds *\| *may import *\|", line))
    rows: list[Row] = []
    for line in lines[start + 2 :]:
        if not line.startswith("|"):
            break
        room_cell, _, may_cell = (cell.strip() for cell in line.strip("|").split("|"))
        rooms = tuple(name.rstrip("/") for name in re.findall(r"`([^`]+)`", room_cell))
        above = {Path(room).stem: room for row in rows for room in row.rooms}
        if may_cell == EVERYTHING:
            may = tuple(above.values())
        else:
            names = [] if may_cell == "nothing" else [name.strip() for name in may_cell.split(",")]
            unknown = [name for name in names if name not in above]
            assert not unknown, f"row {rooms} may import {unknown}, which no row above it names"
            may = tuple(above[name] for name in names)
        rows.append(Row(rooms, may))
    return rows


def imported_modules(tree: ast.AST, root: Path, package: tuple[str, ...]) -> list[tuple[int, str]]:
    """Line and dotted name of every module of ours that a file imports, wherever in it the import stands."""
    found: list[tuple[int, str]] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) + 1 - node.level] if node.level else ()
            dotted = ".".join((*base, *((node.module,) if node.module else ())))
            for alias in node.names:
                deeper = root.joinpath(*dotted.split("."), alias.name)
                is_module = deeper.with_suffix(".py").exists() or (deeper / "__init__.py").exists()
                found.append((node.lineno, f"{dotted}.{alias.name}" if is_module else dotted))
    return [(line, name) for line, name in found if name == "lesson" or name.startswith("lesson.")]


def room_of(dotted: str, rooms: list[str]) -> str | None:
    """The room that holds the module, None when the table does not name it."""
    parts = dotted.split(".")
    stem = "/".join(parts[:2])
    return next((room for room in rooms if room in (stem, f"{stem}.py")), None)


def trespasses(root: Path) -> list[str]:
    """One line for every import in `root/lesson` that the table of `root/DEVELOPERS.md` does not allow."""
    rows = import_table((root / "DEVELOPERS.md").read_text(encoding="utf-8"))
    rooms = [room for row in rows for room in row.rooms]
    allowed = {room: row.may for row in rows for room in row.rooms}
    complaints: list[str] = []
    for path in sorted((root / "lesson").rglob("*.py")):
        parts = path.relative_to(root).with_suffix("").parts
        home = "lesson" if parts == ("lesson", "__init__") else room_of(".".join(parts), rooms)
        if home is None:
            complaints.append(f"{path.relative_to(root)}: in no row of the table")
            continue
        may = allowed.get(home, ())
        for line, name in imported_modules(ast.parse(path.read_bytes()), root, parts[:-1]):
            target = room_of(name, rooms)
            if name != "lesson" and target != home and target not in may:
                complaints.append(f"{path.relative_to(root)}:{line}: {home} may not import {name}")
    return complaints


def test_every_import_is_in_the_table() -> None:
    assert trespasses(ROOT) == []


def test_every_room_of_the_table_exists_and_is_named_once() -> None:
    rooms = [room for row in import_table((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")) for room in row.rooms]
    assert len(rooms) == len(set(rooms))
    assert [room for room in rooms if not (ROOT / room).exists()] == []


@pytest.mark.parametrize(
    ("file", "line"),
    [
        ("lesson/write/planted.py", "from lesson.decode import beam"),
        ("lesson/read/planted.py", "import lesson.hear.grammar"),
        ("lesson/read/planted.py", "from lesson import pipeline"),
        ("lesson/read/planted.py", "from .. import pipeline"),
        ("lesson/read/planted.py", "from ..hear import grammar"),
        ("lesson/check/planted.py", "def late() -> None:\n    from lesson.cli import main"),
        ("lesson/errors.py", "import lesson.model"),
        ("lesson/stray.py", "import lesson.model"),
        ("lesson/__init__.py", "import lesson.model"),
    ],
)
def test_a_planted_import_is_reported(tmp_path: Path, file: str, line: str) -> None:
    shutil.copytree(ROOT / "lesson", tmp_path / "lesson", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "DEVELOPERS.md", tmp_path)
    with (tmp_path / file).open("a", encoding="utf-8") as target:
        target.write(f"\n{line}\n")
    assert [complaint for complaint in trespasses(tmp_path) if complaint.startswith(file)]


def test_a_row_cannot_allow_what_stands_below_it() -> None:
    table = (
        "| room | holds | may import |\n|---|---|---|\n"
        "| `lesson/read/` | readers | write |\n| `lesson/write/` | writers | nothing |\n"
    )
    with pytest.raises(AssertionError, match="no row above"):
        import_table(table)


def calls_of_print(root: Path) -> list[str]:
    """Where `lesson/` prints outside the command line."""
    return [
        f"{path.relative_to(root)}:{node.lineno}"
        for path in sorted((root / "lesson").rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_bytes()))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
    ]


def test_only_the_command_line_prints() -> None:
    assert calls_of_print(ROOT) == []
