"""The corpus of scripts: each with its planted fault, and without it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

CORPUS = tuple(sorted(Path(__file__).parent.glob("scripts*.txt")))
_MARK = re.compile(r"\{([^|{}]*)\|([^|{}]*)\}")


@dataclass(frozen=True)
class Script:
    """A script with one fault of a `kind` (and `why`, for an illegal move) that stands in `lines`; and without it."""

    name: str
    kind: str
    why: str
    faulty: str
    clean: str
    lines: tuple[int, ...]


def scripts(*paths: Path) -> list[Script]:
    """Every script of the files, of the whole corpus where none is named, in order.

    What stands in a file above its first script is remarks.
    """
    out = []
    texts = [path.read_text(encoding="utf-8") for path in paths or CORPUS]
    for block in (block for text in texts for block in text.split("=== ")[1:]):
        head, _, text = block.partition("\n")
        kind, *rest = head.split()
        lines = tuple(text.count("\n", 0, mark.start()) + 1 for mark in _MARK.finditer(text))
        out.append(
            Script(head, kind, rest[0] if rest[1:] else "", _MARK.sub(r"\1", text), _MARK.sub(r"\2", text), lines)
        )
    return out
