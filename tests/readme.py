"""What README.md says in a form that can be run.

`python3 tests/readme.py N` prints its Nth command line (standard library only, because `.ci/run` calls it before
anything is installed); `python -m tests.readme renew` puts what the program does today into its examples.
"""

from __future__ import annotations

import contextlib
import io
import json
import re
import sys
import textwrap
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
README = ROOT / "README.md"

SHOWN_SEGMENTS = 3
SHOWN_LINES = 16
WIDTH = 79


def block(language: str) -> re.Pattern[str]:
    """Matches a fenced block marked `language`; group 1 is its text without the fences."""
    return re.compile(rf"^```{language}\n(.*?)^```$", flags=re.MULTILINE | re.DOTALL)


def shown(language: str) -> str:
    """The text of the blocks of README.md marked `language`, one after the other."""
    return "".join(block(language).findall(README.read_text(encoding="utf-8")))


def command_lines() -> list[str]:
    """The command lines of README.md, each of them one line: first set up and run, then set up and test."""
    return [line for line in shown("sh").splitlines() if line.strip()]


def sample() -> Path:
    """The talk that the first command line converts."""
    return ROOT / next(word for word in command_lines()[0].split() if word.startswith("samples/"))


def examples() -> dict[str, str]:
    """What the example blocks of README.md must hold: the talk as heard, the study and the summary it becomes.

    Runs the main job of the first command line, in a folder of its own.
    """
    import tempfile

    from lesson.cli import main

    segments = json.loads(sample().read_text(encoding="utf-8"))["segments"][:SHOWN_SEGMENTS]
    heard = [textwrap.fill(f"{_clock(segment['start'])}  {segment['text'].strip()}", WIDTH) for segment in segments]
    printed = io.StringIO()
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder), contextlib.redirect_stdout(printed):
        assert main(["convert", str(sample()), "-o", "out"]) == 0
        study = Path("out", f"{sample().stem}.pgn").read_text(encoding="utf-8")
    movetext = study.split("\n\n", 1)[1]
    return {
        "text": "\n".join(heard) + "\n",
        "pgn": "\n".join(movetext.splitlines()[:SHOWN_LINES]) + "\n",
        "console": printed.getvalue(),
    }


def _clock(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02}"


def renew() -> None:
    """Rewrite the example blocks of README.md."""
    text = README.read_text(encoding="utf-8")
    for language, content in examples().items():
        found = block(language).search(text)
        assert found, f"README.md has no block marked {language}"
        text = text[: found.start(1)] + content + text[found.end(1) :]
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    if sys.argv[1:] == ["renew"]:
        renew()
    else:
        print(command_lines()[int(sys.argv[1]) - 1])
