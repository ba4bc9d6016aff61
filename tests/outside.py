"""Programs that are not ours and read what we write. A missing one fails the test that asks for it."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from functools import cache
from pathlib import Path
from typing import Any

READERS = Path(__file__).resolve().parent / "readers"


@cache
def pgn_extract() -> str:
    """Where `pgn-extract` is; Debian puts it into /usr/games."""
    found = shutil.which("pgn-extract", path=os.pathsep.join([os.environ.get("PATH", ""), "/usr/games"]))
    assert found, "pgn-extract is missing: apt-get install pgn-extract"
    return found


def pgn_extract_complaints(path: Path, games: int) -> str:
    """What `pgn-extract` says against the file, "" for nothing. Its exit code tells nothing; standard error does."""
    run = subprocess.run([pgn_extract(), "-r", str(path)], capture_output=True, text=True, timeout=60, check=True)
    wanted = f"{games} game{'s' if games != 1 else ''} matched out of {games}."
    said = [line for line in run.stderr.splitlines() if line.strip() and not line.startswith("Processing ")]
    # Besides complaints it reports a line "White - Black Event Site Date" for each game.
    complaints = [line for line in said if line != wanted and not line.startswith("? - ? ")]
    return "" if said[-1:] == [wanted] and not complaints else run.stderr


def pgn_extract_rewrites(path: Path, width: int) -> str:
    """The file as `pgn-extract` writes it anew in lines of at most `width` characters."""
    run = subprocess.run([pgn_extract(), "-s", f"-w{width}", str(path)], capture_output=True, timeout=60, check=True)
    return run.stdout.decode("utf-8")


@cache
def node() -> str:
    """Where `node` is, with the reader packages installed beside the script (from the lock file, on first use)."""
    found = shutil.which("node")
    assert found, "node is missing: apt-get install nodejs npm"
    if not (READERS / "node_modules" / ".package-lock.json").exists():
        npm = shutil.which("npm")
        assert npm, "npm is missing: apt-get install npm"
        install = subprocess.run([npm, "ci", "--no-audit", "--no-fund"], cwd=READERS, capture_output=True, text=True)
        assert install.returncode == 0, f"npm ci in {READERS} failed:\n{install.stderr}"
    return found


def node_reading(path: Path) -> dict[str, Any]:
    """What kokopu and chess.js make of the file: see tests/readers/read.js."""
    run = subprocess.run([node(), str(READERS / "read.js"), str(path)], capture_output=True, timeout=120)
    assert run.returncode == 0, run.stderr.decode("utf-8", "replace")
    reading: dict[str, Any] = json.loads(run.stdout)
    return reading


def squeezed(text: str) -> str:
    """`text` without white space: where a reader breaks lines or words is its own affair."""
    return re.sub(r"\s+", "", text)
