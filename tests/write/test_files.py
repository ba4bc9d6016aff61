"""Files are replaced whole or not at all."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

import pytest

from lesson.errors import WriteError
from lesson.write import OUTPUTS, PgnOptions, write_files
from lesson.write.files import write_whole
from tests.write.made import line_of


def test_writes_utf_8_with_the_usual_mode(tmp_path: Path) -> None:
    old = os.umask(0o027)
    try:
        write_whole(tmp_path / "a", "Läufer\n")
    finally:
        os.umask(old)
    assert (tmp_path / "a").read_bytes() == b"L\xc3\xa4ufer\n"
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == 0o640
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_a_replaced_file_keeps_its_mode(tmp_path: Path) -> None:
    target = tmp_path / "a"
    target.write_text("old")
    target.chmod(0o604)
    write_whole(target, "new")
    assert (target.read_text(), stat.S_IMODE(target.stat().st_mode)) == ("new", 0o604)


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_failure_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    target = tmp_path / "a"
    target.write_text("old")
    monkeypatch.setattr(os, step, full)
    with pytest.raises(WriteError, match=r"a: cannot be written \(No space left on device\)"):
        write_whole(target, "new")
    assert target.read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_synced_before_and_after_the_rename(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    sync, replace = os.fsync, os.replace

    def fsync(handle: int) -> None:
        done.append("sync folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "sync file")
        sync(handle)

    def rename(old: Path, new: Path) -> None:
        done.append("rename")
        replace(old, new)

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(os, "replace", rename)
    write_whole(tmp_path / "a", "new")
    assert done == ["sync file", "rename", "sync folder"]


def test_a_missing_folder(tmp_path: Path) -> None:
    with pytest.raises(WriteError, match="does not exist"):
        write_whole(tmp_path / "no" / "a", "new")


def test_a_file_where_a_folder_should_be(tmp_path: Path) -> None:
    (tmp_path / "no").write_text("")
    with pytest.raises(WriteError, match="cannot be reached"):
        write_whole(tmp_path / "no" / "a", "new")


def test_a_link_is_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "real").write_text("old")
    (tmp_path / "a").symlink_to(tmp_path / "real")
    with pytest.raises(WriteError, match="is a link"):
        write_whole(tmp_path / "a", "new")
    assert (tmp_path / "real").read_text() == "old"


def test_a_folder_is_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    with pytest.raises(WriteError, match="is not a file"):
        write_whole(tmp_path / "a", "new")


def test_a_read_only_file_is_not_replaced(tmp_path: Path) -> None:
    target = tmp_path / "a"
    target.write_text("old")
    target.chmod(0o444)
    with pytest.raises(WriteError, match="read-only"):
        write_whole(target, "new")
    assert target.read_text() == "old"


def test_every_output_is_written(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "folder"
    paths = write_files(line_of("e4 e5"), "talk", folder, PgnOptions("none", "Tuesday"))
    assert paths == tuple(folder / f"talk{output.suffix}" for output in OUTPUTS)
    assert [path.suffix for path in paths] == [".pgn", ".json", ".md"]
    assert (folder / "talk.pgn").read_text().startswith('[Event "Tuesday"]')
    first = [path.read_bytes() for path in paths]
    write_files(line_of("e4 e5"), "talk", folder, PgnOptions("none", "Tuesday"))
    assert [path.read_bytes() for path in paths] == first


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "no").write_text("")
    with pytest.raises(WriteError, match="cannot be made a folder"):
        write_files(line_of("e4"), "talk", tmp_path / "no" / "deeper")


def test_a_read_only_file_system_is_said_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """unlink(2) and open(2): on such a file system both give EROFS, unlink also for a name that is not there."""

    def refuse(*_: object, **__: object) -> int:
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr(os, "open", refuse)
    monkeypatch.setattr(Path, "unlink", refuse)
    with pytest.raises(WriteError, match=r"cannot be written \(Read-only file system\); name another folder"):
        write_whole(tmp_path / "study.pgn", "text")
