"""Opening theory: which positions are known, how often lines go on from them, and what they are called.

Lines and names come from the catalogue OCN-1 by Club d'Escacs Figueres (https://github.com/escacsfigueres/ocn),
licence CC-BY-4.0 (https://creativecommons.org/licenses/by/4.0/), read from the package `ocn-chess` as it is; names are
shortened here to what is said at the board. Names clubs use that the catalogue lacks stand in
grammars/en-openings.toml.
"""

from __future__ import annotations

import csv
import re
import tomllib
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

import chess

from lesson.data import data_path
from lesson.errors import DataError

Key = tuple[int | bool | None, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """One catalogued line: `moves` in UCI from the initial position, `eco` codes as "B90" or "B90-B99"."""

    slug: str
    name: str
    eco: str
    parent: str
    moves: tuple[str, ...]
    aliases: tuple[str, ...]
    canonical: bool


@dataclass(frozen=True, slots=True)
class OpeningName:
    """A name as it is said: lower-case `words` without accents or "Defence", "Variation" and the like.

    Several names may share their words (an Exchange Variation of many openings); `weight` is the number of catalogued
    lines below this one. `needs` says what must stand beside the words so that they are a name: "" nothing,
    "article" a word like "the" before or a word like "defence" after, "suffix" the word after. `common` marks the names
    written in grammars/en-openings.toml; the others are the catalogue's.
    """

    words: tuple[str, ...]
    moves: tuple[str, ...]
    eco: str
    title: str
    needs: str
    weight: int
    common: bool


def position_key(board: chess.Board) -> Key:
    """What makes two positions the same in theory: men, side to move, castling rights, a legal en passant capture."""
    # Only asked when a pawn has just made a double step: finding a legal capture is the slow part.
    ep = board.ep_square if board.ep_square is not None and board.has_legal_en_passant() else None
    return (
        board.pawns,
        board.knights,
        board.bishops,
        board.rooks,
        board.queens,
        board.kings,
        board.occupied_co[chess.WHITE],
        board.turn,
        board.clean_castling_rights(),
        ep,
    )


@dataclass(frozen=True, slots=True)
class Book:
    """Counts over all catalogued lines, by position, so that move orders do not matter."""

    weights: dict[Key, int]
    continuations: dict[Key, dict[str, int]]
    endings: dict[Key, Line]

    def weight(self, position: chess.Board | Key) -> int:
        """Number of catalogued lines that pass through a position, 0 for one outside theory."""
        return self.weights.get(position_key(position) if isinstance(position, chess.Board) else position, 0)

    def moves(self, position: chess.Board | Key) -> dict[str, int]:
        """Moves (UCI) that catalogued lines play from here, with the number of lines; {} outside theory."""
        key = position_key(position) if isinstance(position, chess.Board) else position
        return self.continuations.get(key, {})


# ------------------------------------------------------------------------------------------------------- catalogue

_ABBREVIATIONS = {
    "KID": "King's Indian Defence",
    "QID": "Queen's Indian Defence",
    "KIA": "King's Indian Attack",
    "QGD": "Queen's Gambit Declined",
    "QGA": "Queen's Gambit Accepted",
    "Nimzo": "Nimzo-Indian",
}
_ABBREVIATION = re.compile(r"\b(KID|QID|KIA|QGD|QGA|Nimzo)(?![-\w])")
_COLUMNS = ("ocn1", "canonical_name", "eco_legacy", "parent_ocn1", "moves_uci", "aliases", "transposes_to")


@lru_cache(maxsize=1)
def lines() -> tuple[Line, ...]:
    """Every line of the catalogue that has moves, in its order.

    Raises: DataError when the package's data cannot be read.
    """
    try:
        text = (files("ocn") / "data" / "ocn-1.csv").read_text(encoding="utf-8")
        table = csv.reader(text.splitlines())
        header = next(table)
        slug, name, eco, parent, moves, aliases, transposes = (header.index(c) for c in _COLUMNS)
        return tuple(
            Line(
                row[slug],
                _ABBREVIATION.sub(lambda m: _ABBREVIATIONS[m[1]], row[name]),
                _eco_range(row[eco]),
                row[parent],
                tuple(row[moves].split()),
                tuple(a for a in row[aliases].split("|") if a),
                not row[transposes],
            )
            for row in table
            if row[moves]
        )
    except (ImportError, OSError, ValueError, IndexError, StopIteration) as error:
        raise DataError(f"ocn-chess: its catalogue cannot be read ({error}); install ocn-chess 1.2") from error


def _eco_range(codes: str) -> str:
    first, _, rest = codes.partition("|")
    return f"{first}-{rest.rpartition('|')[2]}" if rest else first


@lru_cache(maxsize=1)
def book() -> Book:
    """The counts over the whole catalogue, made once (a third of a second)."""
    weights: Counter[Key] = Counter()
    continuations: dict[Key, dict[str, int]] = {}
    endings: dict[Key, Line] = {}
    board = chess.Board()
    played: list[str] = []
    keys = [position_key(board)]
    # Sorted lines share their beginnings, so each distinct move is played once.
    for line in sorted(lines(), key=lambda x: x.moves):
        shared = next((i for i, (a, b) in enumerate(zip(played, line.moves, strict=False)) if a != b), None)
        shared = min(len(played), len(line.moves)) if shared is None else shared
        for _ in range(len(played) - shared):
            board.pop()
        del played[shared:], keys[shared + 1 :]
        for move in line.moves[shared:]:
            board.push(chess.Move.from_uci(move))
            played.append(move)
            keys.append(position_key(board))
        weights.update(keys)
        for key, move in zip(keys, line.moves, strict=False):
            moves = continuations.setdefault(key, {})
            moves[move] = moves.get(move, 0) + 1
        known = endings.get(keys[-1])
        if known is None or (not line.canonical, len(line.slug)) < (not known.canonical, len(known.slug)):
            endings[keys[-1]] = line
    return Book(dict(weights), continuations, endings)


# ----------------------------------------------------------------------------------------------------------- titles

_MOVE = re.compile(r"(?:\d*\.*)(?:[NBRQK]?[a-h]?[1-8]?x?[a-h][1-8](?:=[NBRQ])?|[NBRQK][a-h]?x|[a-h]x|O-O(?:-O)?)[+#]?")
_ASIDE = re.compile(r"\(.*?\)|\b(?:against|vs)\b.*")
_UNSAID = re.compile(r"\b(?:Prefix|Move Order|move-order|Main Line|Setup|Capture|Retreat|Advance Capture)\b")


def _speakable(name: str) -> bool:
    return not any(_MOVE.fullmatch(word.strip("(),:/")) for word in re.split(r"[\s/]", name))


@lru_cache(maxsize=1)
def _by_slug() -> dict[str, Line]:
    return {line.slug: line for line in lines()}


@cache
def _title(line: Line) -> str:
    """The nearest name upwards that is words only."""
    at: Line | None = line
    while at is not None:
        if _speakable(at.name) and not _UNSAID.search(at.name):
            return at.name
        at = _by_slug().get(at.parent)
    parts = (" ".join(w for w in part.split() if _speakable(w)) for part in _ASIDE.sub("", line.name).split(","))
    return ", ".join(part for part in parts if part)


def name_at(board: chess.Board) -> str | None:
    """What the catalogue calls exactly this position, whatever the move order; None if it has no name for it."""
    line = book().endings.get(position_key(board))
    return None if line is None else _title(line)


def name_of(line: chess.Board | Sequence[str]) -> str | None:
    """The name of the deepest catalogued position on a line, None if it has none.

    `line` is a board with its moves, or UCI moves from the initial position.
    Raises: ValueError if the moves are not legal.
    """
    if isinstance(line, chess.Board):
        board = line.copy()
    else:
        board = chess.Board()
        for uci in line:
            board.push(board.parse_uci(uci))
    while True:
        if name := name_at(board):
            return name
        if not board.move_stack:
            return None
        board.pop()


# ------------------------------------------------------------------------------------------------------------ names

_SUFFIXES = frozenset(("defence", "defense", "game", "opening", "variation", "system", "line", "lines"))
_KEPT_SUFFIXES = frozenset(("attack", "gambit", "countergambit", "trap"))
_SKIPPED = frozenset(
    ("main", "prefix", "order", "setup", "reversed", "normal", "with", "vs", "mainline", "via", "the", "and", "of")
)
_WORD = re.compile(r"[a-z]+(?:'[a-z]+)?")
_LONGEST_NAME = 5
# A catalogue name with no line below it is a curiosity: its words would only be found by mistake.
_FEWEST_LINES = 2


def _fold(text: str) -> str:
    return unicodedata.normalize("NFKD", text.lower().replace("\u2019", "'")).encode("ascii", "ignore").decode()


def _words(text: str) -> tuple[str, ...]:
    return tuple(_WORD.findall(_fold(text)))


def _derived(line: Line, everyday: frozenset[str]) -> Iterable[tuple[tuple[str, ...], str]]:
    """The ways to say a catalogued name: (words, needs)."""
    head, _, own = line.name.rpartition(", ")
    texts = [line.name, own, *(_ABBREVIATION.sub(lambda m: _ABBREVIATIONS[m[1]], a) for a in line.aliases)]
    if head and "," not in head:
        texts.append(f"{own} {head}")
    for text in texts:
        if re.search(r"\d|O-O|\.", text):
            continue
        said = _words(text)
        words = tuple(w for w in said if w not in _SUFFIXES)
        if not words or len(words) > _LONGEST_NAME or _SKIPPED.intersection(words) or words[0] in _KEPT_SUFFIXES:
            continue
        suffixed = bool(_KEPT_SUFFIXES.intersection(words))
        if not suffixed and all(w in everyday for w in words):
            continue
        yield words, "" if suffixed or len(words) > 1 else "suffix"


def _lines_below() -> Counter[str]:
    """Slug -> number of lines it stands for, its own included."""
    below: Counter[str] = Counter()
    for line in lines():
        slug = line.slug
        while slug:
            below[slug] += 1
            slug = slug.rpartition(".")[0]
    return below


def _given(table: dict[str, Any], path_name: str) -> Iterable[OpeningName]:
    """The names written in the grammar file."""
    for group in table.get("group", []):
        for text, given in group["names"].items():
            for sans in [given] if isinstance(given, str) else given:
                board = chess.Board()
                try:
                    moves = tuple(board.push_san(san).uci() for san in sans.split())
                except ValueError as error:
                    raise DataError(f"{path_name}: {text}: {error}") from error
                yield OpeningName(_words(text), moves, "", text, group["needs"], 0, True)


@lru_cache(maxsize=1)
def names() -> tuple[OpeningName, ...]:
    """Every name that may be said: the written ones first, then the catalogue's, of equal words the weightiest first.

    Raises: DataError if the grammar file is broken or one of its lines is not legal.
    """
    path = data_path("grammars/en-openings.toml")
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        given = list(_given(table, path.name))
        everyday = frozenset(table["everyday"])
        never = {_words(text) for text in table["never"]}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, KeyError, AttributeError) as error:
        raise DataError(f"{path.name}: not a readable list of opening names ({error!r})") from error
    below = _lines_below()
    by_moves: dict[tuple[str, ...], Line] = {}
    for line in lines():
        by_moves.setdefault(line.moves, line)
    found: dict[tuple[tuple[str, ...], tuple[str, ...]], OpeningName] = {}
    for name in given:
        known = next(by_moves[m] for n in range(len(name.moves), 0, -1) if (m := name.moves[:n]) in by_moves)
        eco, title, weight = known.eco, _title(known), below[known.slug]
        found[name.words, name.moves] = OpeningName(name.words, name.moves, eco, title, name.needs, weight, True)
    settled = never.union(name.words for name in given)
    for line in lines():
        if below[line.slug] < _FEWEST_LINES:
            continue
        for words, needs in _derived(line, everyday):
            if words not in settled and (words, line.moves) not in found:
                name = OpeningName(words, line.moves, line.eco, _title(line), needs, below[line.slug], False)
                found[words, line.moves] = name
    return tuple(sorted(found.values(), key=lambda n: (not n.common, n.words, -n.weight, n.moves)))
