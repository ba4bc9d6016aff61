"""Counts which letter a recogniser wrote for which file: `python -m tests.hear.learn_squares FOLDER`.

FOLDER holds one folder per talk with `script.txt` (the exact words) and `heard-*.json` (what recognisers wrote). Prints
the `[heard]` table of `shared/squares.toml`.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from difflib import SequenceMatcher
from itertools import pairwise
from pathlib import Path

from lesson.hear.tokens import Token, tokenise

FILES = "abcdefgh"


def squares(tokens: list[Token]) -> dict[int, tuple[str, str]]:
    """Token index -> (letters, rank digit) wherever letters stand before a single digit 1..8."""
    out: dict[int, tuple[str, str]] = {}
    for i, (a, b) in enumerate(pairwise(tokens)):
        lone = i + 2 >= len(tokens) or not (tokens[i + 2].glued and tokens[i + 2].text.isdigit())
        if a.text.isalpha() and len(a.text) <= 3 and b.text in "12345678" and lone:
            out[i] = (a.text, b.text)
    return out


def pairs(script: list[str], heard: list[str]) -> list[tuple[str, str]]:
    """(true file, letters heard) for every square of the script that stands opposite a square of the same rank."""
    ours, theirs = tokenise(script), tokenise(heard)
    true, said = squares(ours), squares(theirs)
    found: list[tuple[str, str]] = []
    matcher = SequenceMatcher(None, [t.text for t in ours], [t.text for t in theirs], autojunk=False)
    for tag, i1, i2, j1, j2 in matcher.get_opcodes():
        if i2 - i1 != j2 - j1 or tag in ("insert", "delete"):
            continue
        for i, j in zip(range(i1, i2), range(j1, j2), strict=True):
            if i in true and true[i][0] in FILES and j in said and said[j][1] == true[i][1]:
                found.append((true[i][0], said[j][0]))
    return found


def main(folder: Path) -> None:
    """Print the table."""
    counts: Counter[tuple[str, str]] = Counter()
    for talk in sorted(p for p in folder.iterdir() if (p / "script.txt").exists()):
        script = (talk / "script.txt").read_text(encoding="utf-8").split()
        for file in sorted(talk.glob("heard-*.json")):
            segments = json.loads(file.read_text(encoding="utf-8"))["segments"]
            counts.update(pairs(script, [w["word"].strip() for s in segments for w in s.get("words", [])]))
    print("[heard]")
    for true in FILES:
        row = sorted(((n, h) for (t, h), n in counts.items() if t == true), key=lambda x: (-x[0], x[1]))
        print(f"{true} = {{ {', '.join(f'{h} = {n}' for n, h in row)} }}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
