"""The moves an opening's name stands for, from a given position on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import chess

from lesson.decode.position import Choice, Position
from lesson.hear.phrases import Phrase
from lesson.openings import position_key

LONGEST_NAMED = 2  # moves a name may play at once ("the Four Knights")


def line_rests(phrase: Phrase, position: Position, path: Sequence[str]) -> Iterator[tuple[Choice, ...]]:
    """The last one or two moves of the lines a name stands for, where the position is the one before them; or the last
    move alone, where that side has made all its earlier moves of the line (a system played against anything)."""
    here = position_key(position.board)
    seen = set()
    for line in phrase.lines:
        board = chess.Board()
        for number, uci in enumerate(line):
            left = line[number:]
            if len(left) <= LONGEST_NAMED and left not in seen and position_key(board) == here:
                seen.add(left)
                yield _choices(position, left)
            board.push_uci(uci)
        own, last = line[-3::-2], line[-1]
        turn = bool(path) and (len(line) - len(path)) % 2 == 1 and len(path) <= len(line) + 1
        made = set(own) <= set(path[(len(line) - 1) % 2 :: 2])
        if turn and own and made and (last,) not in seen and last in position.by_uci:
            seen.add((last,))
            yield (position.by_uci[last],)


def _choices(position: Position, line: Sequence[str]) -> tuple[Choice, ...]:
    out = []
    for uci in line:
        choice = position.by_uci[uci]
        out.append(choice)
        board = choice.board.copy(stack=False)
        board.push(choice.move)
        position = Position(board)
    return tuple(out)
