"""Files are replaced whole or not at all."""

from __future__ import annotations

import os
import secrets
import stat
from contextlib import suppress
from pathlib import Path

from lesson.errors import WriteError


def write_whole(path: Path, text: str | bytes) -> None:
    """Put `text` (in UTF-8; bytes as they are) at `path`; whoever reads `path`, even after a crash, finds the old file
    or the new one.

    Written beside `path`, synced, renamed over it, and the rename synced with the folder. A file that was there keeps
    its mode bits. Raises WriteError, with the old file untouched, where the folder is missing, `path` is a link or a
    folder or read-only, or the system refuses.
    """
    mode = _mode_of_old(path)
    beside = path.with_name(f".{secrets.token_hex(6)}.part")
    try:
        _write_new(beside, text, mode)
        os.replace(beside, path)
        _sync_folder(path.parent)
    except OSError as error:
        raise WriteError(f"{path}: cannot be written ({error.strerror}); name another folder or free it") from error
    finally:
        with suppress(OSError):  # a read-only file system refuses even where there is nothing to remove
            beside.unlink()


def _mode_of_old(path: Path) -> int | None:
    """Mode bits of the file that would be replaced, None where there is none."""
    try:
        status = path.lstat()
    except FileNotFoundError:
        if not path.parent.is_dir():
            raise WriteError(f"{path}: the folder {path.parent} does not exist; make it first") from None
        return None
    except OSError as error:
        raise WriteError(f"{path}: cannot be reached ({error.strerror}); name another folder") from error
    if stat.S_ISLNK(status.st_mode):
        raise WriteError(f"{path}: is a link, and would be replaced by a file; remove it or name another folder")
    if not stat.S_ISREG(status.st_mode):
        raise WriteError(f"{path}: is not a file; remove it or name another folder")
    # A rename needs no right to the file itself, so the wish behind its mode bits is honoured here.
    if not status.st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH) or not os.access(path, os.W_OK):
        raise WriteError(f"{path}: is read-only; make it writable or name another folder")
    return stat.S_IMODE(status.st_mode)


def _write_new(path: Path, text: str | bytes, mode: int | None) -> None:
    with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666), "wb") as file:
        file.write(text.encode("utf-8") if isinstance(text, str) else text)
        if mode is not None:
            os.chmod(path, mode)
        file.flush()
        os.fsync(file.fileno())


def _sync_folder(folder: Path) -> None:
    if os.name == "nt":  # Windows cannot open a folder for syncing
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
