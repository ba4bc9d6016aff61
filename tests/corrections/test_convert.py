"""`lesson convert` and the file of corrections."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from lesson.cli import main
from lesson.model import Lesson

TALK = """[0:00] Let us begin with e4, e5, knight f3, knight c6, bishop b5.
[0:12] And here Black plays a6. A quiet little move.
"""
NO_A6 = {"id": "c1", "kind": "move", "text": "a6.", "start_ms": 15000, "move": "Nf6"}


@pytest.fixture
def talk(tmp_path: Path) -> Path:
    path = tmp_path / "evening.txt"
    path.write_text(TALK, encoding="utf-8")
    return path


def put(path: Path, *corrections: dict[str, object]) -> None:
    path.write_text(json.dumps({"version": 1, "corrections": corrections}), encoding="utf-8")


def moves(talk: Path) -> list[str]:
    lesson = Lesson.model_validate_json(talk.with_name("evening.lesson.json").read_bytes())
    return [move.san for chapter in lesson.chapters for move in chapter.moves]


def test_the_file_beside_the_talk_is_picked_up_and_not_written_to(talk: Path) -> None:
    path = talk.with_name("evening.corrections.json")
    put(path, NO_A6)
    before = path.read_bytes()
    assert main(["convert", str(talk), "-q"]) == 0
    assert moves(talk) == ["e4", "e5", "Nf3", "Nc6", "Bb5", "Nf6"]
    assert path.read_bytes() == before


def test_another_file_may_be_named_for_one_talk(talk: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    put(talk.with_name("evening.corrections.json"), NO_A6)
    other = tmp_path / "other.json"
    put(other)
    assert main(["convert", str(talk), "-q", "--corrections", str(other)]) == 0
    assert moves(talk)[-1] == "a6"
    assert main(["convert", str(talk), "-q", "--corrections", str(tmp_path / "absent.json")]) == 2
    assert main(["convert", str(talk), str(talk), "--corrections", str(other)]) == 2
    assert capsys.readouterr().err.count("\n") == 2


def test_a_lost_correction_is_told_on_every_way_out(talk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    put(talk.with_name("evening.corrections.json"), NO_A6 | {"text": "the queen is trapped", "move": "Qxd7+"})
    assert main(["convert", str(talk)]) == 0
    unresolved = talk.with_name("evening.unresolved.md").read_text(encoding="utf-8")
    lesson = talk.with_name("evening.lesson.json").read_text(encoding="utf-8")
    assert all("the queen is trapped" in text for text in (capsys.readouterr().out, unresolved, lesson))


def test_broken_corrections_stop_the_talk_with_one_line(talk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    talk.with_name("evening.corrections.json").write_text("{", encoding="utf-8")
    assert main(["convert", str(talk)]) == 2
    printed = capsys.readouterr()
    assert printed.err.count("\n") == 1
    assert "evening.corrections.json: line 1" in printed.err
    assert sorted(p.name for p in talk.parent.iterdir()) == ["evening.corrections.json", "evening.txt"]


def test_same_corrections_same_bytes(talk: Path, tmp_path: Path) -> None:
    put(talk.with_name("evening.corrections.json"), NO_A6)
    for out in ("1", "2"):
        assert main(["convert", str(talk), "-q", "-o", str(tmp_path / out)]) == 0
    assert [p.read_bytes() for p in sorted((tmp_path / "1").iterdir())] == [
        p.read_bytes() for p in sorted((tmp_path / "2").iterdir())
    ]


def test_the_schema_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", "--of", "corrections"]) == 0
    assert "corrections" in json.loads(capsys.readouterr().out)["properties"]
