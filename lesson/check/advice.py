"""Recommendations that contradict each other, and lines that end without a verdict."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import chess

from lesson.check.fault import Fault
from lesson.check.hearing import signs
from lesson.hear.grammar import Symbol
from lesson.hear.tokens import Token, tokenise
from lesson.hear.verdicts import find_verdicts
from lesson.model import Decoded, Event
from lesson.openings import position_key
from lesson.tree import Tree

# Words between "I recommend" and the move, and tokens in which something may take a recommendation back.
_NEAR, _CLAUSE = 3, 6
_MOVES = ("play", "retell", "mention")


def contradictions(
    words: Sequence[str], decoded: Decoded, told: Sequence[tuple[Event, chess.Board]] = ()
) -> Iterator[Fault]:
    """The second of two different moves recommended in the same position, in any move order, to the script's side.

    `told` are moves that a strict reading has followed where the decoder has not, with the positions they are made in.
    """
    given: dict[object, tuple[str, str]] = {}
    rejected = list(_rejected(words, decoded, told))
    for event, board in recommended(words, decoded, told):
        quoted = " ".join(words[event.first : event.last]).strip(".,;:!?")
        if (position_key(board), event.uci) in ((key, uci) for word, key, uci in rejected if word < event.first):
            message = f'"{quoted}": {event.san} is recommended where it was turned down before'
            yield Fault("contradiction", message, event.first, event.last, board.fen(), "", (event.san,))
            continue
        uci, san = given.setdefault(position_key(board), (event.uci, event.san))
        if uci != event.uci:
            message = f'"{quoted}": {event.san} is recommended where {san} was recommended before'
            yield Fault("contradiction", message, event.first, event.last, board.fen(), "", (san, event.san))


def recommended(
    words: Sequence[str], decoded: Decoded, told: Sequence[tuple[Event, chess.Board]] = ()
) -> Iterator[tuple[Event, chess.Board]]:
    """Each move recommended to the side the talk is for, as the event that tells it, and the position it is for."""
    tokens = tokenise(words)
    symbols = signs(tokens)
    moves = _moves(decoded, told)
    found = [
        (symbol.value == "ours", beside)
        for symbol in symbols
        if symbol.kind == "recommend" and not _taken_back(symbol, symbols, tokens)
        if (beside := _move_beside(symbol, tokens, moves)) is not None
    ]
    side = side_of(words)
    advised = {board.turn for ours, (_, board) in found if not ours}
    taught = advised.pop() if side is None and len(advised) == 1 else side
    for ours, (event, board) in found:
        if board.turn == taught or (side is None and not ours):
            yield event, board


def _rejected(
    words: Sequence[str], decoded: Decoded, told: Sequence[tuple[Event, chess.Board]]
) -> Iterator[tuple[int, object, str]]:
    """Each move turned down: the word where it is told, the position it was for, and the move in UCI."""
    tokens = tokenise(words)
    moves = _moves(decoded, told)
    for symbol in signs(tokens):
        if symbol.kind == "reject" and (beside := _move_beside(symbol, tokens, moves)) is not None:
            event, board = beside
            yield event.first, position_key(board), event.uci


def side_of(words: Sequence[str]) -> chess.Color | None:
    """Whom the talk is for, None where it does not say or says both."""
    symbols = signs(tokenise(words))
    named = {symbol.value for symbol in symbols if symbol.kind == "for"}
    return named == {"w"} if len(named) == 1 else None


def _taken_back(symbol: Symbol, symbols: Sequence[Symbol], tokens: Sequence[Token]) -> bool:
    for other in symbols:
        vetoes = other.kind == "veto" and other.value in ("", symbol.value)
        if vetoes and symbol.first - _CLAUSE <= other.first < symbol.first:
            between = tokens[other.first : symbol.first]
            if not any(token.stop for token in between):
                return True
    return False


def _moves(decoded: Decoded, told: Sequence[tuple[Event, chess.Board]]) -> list[tuple[Event, chess.Board]]:
    """Every move named, in order, with the position it is made in."""
    strictly = {word for event, _ in told for word in range(event.first, event.last)}
    found = list(told)
    for event in decoded.events:
        if event.act in _MOVES and event.uci and event.first < event.last and event.first not in strictly:
            node = event.node if event.act == "mention" else decoded.nodes[event.node].parent
            found.append((event, chess.Board(decoded.nodes[node].fen)))
    return sorted(found, key=lambda move: move[0].first)


def _move_beside(
    symbol: Symbol, tokens: Sequence[Token], moves: Sequence[tuple[Event, chess.Board]]
) -> tuple[Event, chess.Board] | None:
    """The move that is recommended."""
    first, last = tokens[symbol.first].word, tokens[symbol.last - 1].word + 1
    if symbol.value != "last":
        begin = last - (symbol.value == "ours")
        return next((m for m in moves if m[0].last > begin and m[0].first <= last + _NEAR), None)
    return next((m for m in reversed(moves) if m[0].first < first <= m[0].last + 1), None)


def unjudged_lines(words: Sequence[str], decoded: Decoded) -> Iterator[Fault]:
    """Lines that end, neither in mate nor in stalemate, and nobody says who stands better."""
    tree = Tree(decoded)
    verdicts = [v for v in find_verdicts(words) if v.target in ("position", "line")]
    for node in decoded.nodes:
        if tree.children.get(node.id) or node.parent < 0:
            continue
        visits = [i for i, e in enumerate(decoded.events) if e.node == node.id and e.act in ("play", "retell")]
        spoken = [i for i in visits if decoded.events[i].first < decoded.events[i].last]
        if not spoken or chess.Board(node.fen).is_game_over():
            continue
        # From the line's last move to the words that leave it.
        ranges = [(decoded.events[i].first, _left(i, decoded, len(words))) for i in spoken]
        if not any(first <= v.first < last for v in verdicts for first, last in ranges):
            event = decoded.events[spoken[-1]]
            line = tree.line(node.id)
            yield Fault("no-verdict", f"{line}: no verdict on this line", event.first, event.last, node.fen)


def _left(index: int, decoded: Decoded, end: int) -> int:
    """The word at which the script goes on elsewhere."""
    here = decoded.events[index].node
    for event in decoded.events[index + 1 :]:
        if event.act in ("play", "retell", "return", "chapter") and event.node != here and event.first < event.last:
            return event.last if event.act == "chapter" else event.first
    return end
