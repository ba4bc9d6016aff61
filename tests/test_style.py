"""The code is clean under the tools named in pyproject.toml."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.mark.parametrize("tool", [["ruff", "check"], ["ruff", "format", "--check"], ["mypy"]], ids=" ".join)
def test_clean(tool: list[str]) -> None:
    run = subprocess.run([sys.executable, "-m", *tool], cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, f"{' '.join(tool)}\n{run.stdout}{run.stderr}"
