"""The built wheel works in a fresh environment, away from the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

from lesson.write import OUTPUTS

ROOT = Path(__file__).resolve().parent.parent
SAMPLE = ROOT / "samples" / "club-game" / "heard-a.json"

pytestmark = pytest.mark.wheel


def run(*command: str | Path, cwd: Path) -> str:
    """Standard output of the command, run in `cwd` without this process's Python settings."""
    clean = {key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "VIRTUAL_ENV"))}
    done = subprocess.run([*map(str, command)], cwd=cwd, env=clean, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{command}\n{done.stdout}{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from the source distribution built from the checkout."""
    out = tmp_path_factory.mktemp("dist")
    run(sys.executable, "-m", "build", "--outdir", out, ROOT, cwd=out)
    return next(out.glob("*.whl"))


def tracked(*folders: str) -> set[str]:
    listed = run("git", "ls-files", "--", *folders, cwd=ROOT).splitlines()
    return {name for name in listed if (ROOT / name).exists()}


def test_the_wheel_carries_code_data_and_licence_and_nothing_else(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    code = tracked("lesson")
    data = {f"lesson/{name}" for name in tracked("grammars", "shared")}
    assert code | data <= names
    assert any(name.endswith("licenses/LICENSE") for name in names)
    assert {name.split("/")[0] for name in names - code - data} == {wheel.name.split("-py3")[0] + ".dist-info"}


def test_the_installed_wheel_does_the_main_job(wheel: Path, tmp_path: Path) -> None:
    home = tmp_path / "environment"
    venv.create(home, with_pip=True)
    binaries = home / ("Scripts" if os.name == "nt" else "bin")
    run(binaries / "python", "-m", "pip", "install", "--quiet", "--disable-pip-version-check", wheel, cwd=tmp_path)
    where = run(binaries / "python", "-c", "import lesson; print(lesson.__file__)", cwd=tmp_path)
    assert str(home) in where
    printed = run(binaries / "lesson", "convert", SAMPLE, "-o", "out", cwd=tmp_path)
    written = [tmp_path / "out" / f"{SAMPLE.stem}{output.suffix}" for output in OUTPUTS]
    assert sorted((tmp_path / "out").iterdir()) == sorted(written)
    assert "heard" in printed
    here = tmp_path / "here"
    run(sys.executable, "-m", "lesson.cli", "convert", SAMPLE, "-q", "-o", here, cwd=ROOT)
    assert [path.read_bytes() for path in written] == [(here / path.name).read_bytes() for path in written]
