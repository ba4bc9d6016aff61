"""What README.md says in a form that can be run; `python3 tests/readme.py N` prints its Nth command line.

Standard library only, because `.ci/run` calls it before anything is installed.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def blocks(language: str) -> list[str]:
    """The fenced blocks of README.md marked `language`, in order, without their fences."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```$", text, flags=re.MULTILINE | re.DOTALL)


def command_lines() -> list[str]:
    """The command lines of README.md, each of them one line: first set up and run, then set up and test."""
    return [line for block in blocks("sh") for line in block.splitlines() if line.strip()]


if __name__ == "__main__":
    print(command_lines()[int(sys.argv[1]) - 1])
