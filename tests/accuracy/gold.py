"""The true answer for a talk: its marked spans, its true tree, and the files that hold what was heard of it."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import chess.pgn

SAMPLES = Path(__file__).resolve().parents[2] / "samples"

VERSIONS = {"exact": "exact.txt", "captions": "captions.vtt", "heard-a": "heard-a.json", "heard-b": "heard-b.json"}
"""What the study reads of a talk: version name -> file name."""


@dataclass(frozen=True, slots=True)
class Span:
    """A marked stretch of the exact words, `words` half open (empty: nobody said it), and what it truly does.

    `san` is empty for returns, chapters and retellings of several moves; `path` holds the UCI moves from the chapter's
    start to the position reached; `fen` is set for chapters only; `how` is said, named or unspoken for moves.
    """

    act: str
    words: tuple[int, int]
    san: str = ""
    chapter: int = 0
    path: tuple[str, ...] = ()
    fen: str = ""
    how: str = ""


@dataclass(frozen=True, slots=True)
class GoldTalk:
    """A talk's exact words, its marked spans in the order told, its true tree (PGN) and its chapters' start FENs."""

    name: str
    folder: Path
    words: tuple[str, ...]
    spans: tuple[Span, ...]
    pgn: str
    starts: tuple[str, ...]

    def files(self) -> dict[str, Path]:
        """The versions this talk has: version name -> file."""
        return {v: self.folder / name for v, name in VERSIONS.items() if (self.folder / name).is_file()}


def load_gold(folder: Path) -> GoldTalk:
    """Read `script.txt`, `spans.json` and `gold.pgn` of a talk's folder; a missing file raises FileNotFoundError."""
    pgn = (folder / "gold.pgn").read_text(encoding="utf-8")
    raw = json.loads((folder / "spans.json").read_text(encoding="utf-8"))
    spans = tuple(
        Span(
            act=s["act"],
            words=(s["words"][0], s["words"][1]),
            san=s.get("san", ""),
            chapter=s.get("chapter", 0),
            path=tuple(s.get("path", ())),
            fen=s.get("fen", ""),
            how=s.get("how", ""),
        )
        for s in raw
    )
    words = tuple((folder / "script.txt").read_text(encoding="utf-8").split())
    return GoldTalk(folder.name, folder, words, spans, pgn, tuple(game.board().fen() for game in games(pgn)))


def games(pgn: str) -> Iterator[chess.pgn.Game]:
    """The games of a PGN text."""
    file = io.StringIO(pgn)
    while (game := chess.pgn.read_game(file)) is not None:
        yield game


def talk_folders(root: Path) -> list[Path]:
    """The folders under `root` that hold a talk with a known tree, by name."""
    return sorted(folder.parent for folder in root.glob("*/spans.json"))
