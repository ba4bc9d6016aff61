"""Announced returns to a position that was never there, and dictated positions that cannot be."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import chess

from lesson.check.diagrams import diagrams
from lesson.check.fault import Fault
from lesson.check.hearing import heard, signs
from lesson.check.labels import is_name
from lesson.check.legal import Spoken, clearly, is_said
from lesson.check.notation import exactly, is_written
from lesson.hear.dictation import Dictation
from lesson.hear.phrases import Phrase
from lesson.hear.tokens import COUNTING, Token, tokenise
from lesson.model import Decoded

# Words between "back to" and what it goes back to ("back to the position after knight c3").
_REACH = 6
_KINGS = ("king", "kings")
# Words of a position spelled with headings, "White: ... Black: ...".
_LONGEST = 60


@dataclass(frozen=True, slots=True)
class Announced:
    """An announced return, at words [first, last): the `fault` if it goes nowhere, else the `node` its words name, or
    the `number` of a move; None and 0 where they leave it open. `line` says that a line was named by its name."""

    first: int
    last: int
    node: int | None = None
    fault: Fault | None = None
    number: int = 0
    line: bool = False


def announced_returns(words: Sequence[str], phrases: Sequence[Phrase], decoded: Decoded) -> Iterator[Announced]:
    """Every announced return to a move, by its number or by its words."""
    tokens = tokenise(words)
    symbols = signs(tokens)
    numbered = {s.first: s.last for s in symbols if s.kind == "movenumber"}
    seen = -1
    for symbol in symbols:
        if symbol.kind != "goback" or symbol.first <= seen or not _opens(tokens, symbol.first):
            continue
        seen = symbol.last
        at = symbol.last + (symbol.last < len(tokens) and tokens[symbol.last].text == "the")
        if at < len(tokens) and at in numbered:
            number = _number(tokens, numbered[at])
            told = _told_numbers(decoded, tokens[symbol.first].word)
            first, last = tokens[symbol.first].word, tokens[min(numbered[at], len(tokens) - 1)].word + 1
            fault = None
            if number and told and number not in told:
                message = f"there is no move {number} to go back to; the lines so far end at move {max(told)}"
                fault = Fault("return", message, first, last, decoded.nodes[_before(decoded, first)].fen)
            yield Announced(first, last, None, fault, number)
            continue
        # The number of a written move is a breath, not a stop.
        if symbol.last < len(tokens) and words[tokens[symbol.last - 1].word][-1:] not in ",.;:!?":
            yield from _to_a_move(words, phrases, decoded, tokens[symbol.first].word, tokens[symbol.last].word)


def _opens(tokens: Sequence[Token], first: int) -> bool:
    """Whether a return begins a clause: "the knight goes back to f3" is a move."""
    before = tokens[first - 1] if first else None
    bare = tokens[first].text == "back"
    return before is None or bool(before.stop) or (before.text in _LEADS and not (bare and before.text == "and"))


_LEADS = frozenset(("let's", "now", "and", "so", "we", "i", "us", "then", "but", "to", "let", "please", "me", "lets"))


def _number(tokens: Sequence[Token], at: int) -> int:
    """The number spoken at a token, 0 for none."""
    digits = ""
    while at < len(tokens) and tokens[at].text.isdigit() and (not digits or tokens[at].glued):
        digits += tokens[at].text
        at += 1
    if digits or at >= len(tokens):
        return int(digits) if digits else 0
    number = COUNTING.get(tokens[at].text, 0)
    ones = COUNTING.get(tokens[at + 1].text, 0) if at + 1 < len(tokens) and not tokens[at].stop else 0
    return number + ones if number >= 20 and ones < 10 else number


def _told_numbers(decoded: Decoded, word: int) -> set[int]:
    """The numbers of the moves told before a word."""
    out: set[int] = set()
    for event in decoded.events:
        if event.first >= word:
            break
        if event.act in ("play", "retell"):
            number = chess.Board(decoded.nodes[event.node].fen).fullmove_number
            out |= {number, max(1, number - 1)}
    return out


def _before(decoded: Decoded, word: int) -> int:
    """The node the script stands at before a word."""
    return next((e.node for e in reversed(decoded.events) if e.first < word and e.last <= word), 0)


def _to_a_move(
    words: Sequence[str], phrases: Sequence[Phrase], decoded: Decoded, first: int, at: int
) -> Iterator[Announced]:
    """A return to a move named by its words, or to a line by its name."""
    if heard("line").fullmatch(words[at].lower()) and at + 1 < len(words) and is_name(words[at + 1]):
        yield Announced(first, at + 2, _end_of_line(words, decoded, first, words[at : at + 2]), line=True)
        return
    phrase = next((p for p in phrases if p.last > at and p.first <= at + _REACH), None)
    spoken = clearly(phrase) if phrase is not None else None
    if phrase is not None and phrase.last - phrase.first == 1 and is_written(words):
        spoken = exactly(words[phrase.first], phrase.first) or spoken
    if phrase is None or spoken is None or any(w[-1:] in ".!?" for w in words[at : max(at, phrase.last - 1)]):
        return
    past = [e for e in decoded.events if e.last <= first and e.uci]
    by = _side(words[first : spoken.last])
    made = [e.node for e in past if _made(spoken, decoded, e.node, by)]
    if not made:
        quoted = " ".join(words[spoken.first : spoken.last]).strip(".,;:!?")
        message = f'"{quoted}" was never played before, so there is no such position to go back to'
        fault = Fault("return", message, first, spoken.last, decoded.nodes[_before(decoded, first)].fen)
        yield Announced(first, spoken.last, None, fault)
    else:
        yield Announced(first, spoken.last, made[-1])


def _end_of_line(words: Sequence[str], decoded: Decoded, first: int, name: Sequence[str]) -> int | None:
    """The last node told behind the heading of a line, before the next of the kind; None where no such is told."""
    plain = [word.strip("#*_()\"'.,;:!?").lower() for word in words]
    noun, letter = (word.strip("#*_()\"'.,;:!?").lower() for word in name)
    heads = [i for i in range(first) if plain[i] == noun and is_name(words[i + 1])]
    head = next((i for i in heads if plain[i + 1] == letter), None)
    if head is None:
        return None
    end = next((i for i in heads if i > head), first)
    told = (e.node for e in reversed(decoded.events) if e.act in ("play", "retell") and head < e.first < end)
    return next(told, None)


def _side(words: Sequence[str]) -> chess.Color | None:
    """The side said to have made a move, None where none is."""
    found = list(heard("subject").finditer(" ".join(words).lower()))
    return "white" in found[-1].groups() if found else None


def _made(spoken: Spoken, decoded: Decoded, node: int, by: chess.Color | None) -> bool:
    here = decoded.nodes[node]
    if here.parent < 0:
        return False
    board = chess.Board(decoded.nodes[here.parent].fen)
    return by in (None, board.turn) and is_said(spoken, board, chess.Move.from_uci(here.uci))


# ---------------------------------------------------------------------------------------------------------- positions


def position_faults(words: Sequence[str], dictations: Sequence[Dictation]) -> Iterator[Fault]:
    """Dictated positions that cannot be, with everything that is wrong with each."""
    covered: set[int] = set()
    for dictation in dictations:
        covered.update(range(dictation.first, dictation.last))
        turn = heard("to-move").search(" ".join(words[dictation.last : dictation.last + 4]).lower())
        flaws = [flaw for flaw in dictation.flaws if not (turn and flaw.startswith("no side to move"))]
        if flaws:
            fen = dictation.positions[0].fen if dictation.positions else ""
            message = f"this position cannot be: {'; '.join(flaws)}"
            yield Fault("position", message, _wrong_at(words, dictation, flaws), dictation.last, fen)
    for diagram in diagrams(words):
        if diagram.wrong:
            yield Fault("position", f"this position cannot be: {diagram.wrong}", diagram.first, diagram.last)
    for first, last, kings in _headed(words):
        wrong = [f"{side} has {n or 'no'} king{'s' if n > 1 else ''}" for side, n in kings.items() if n != 1]
        if wrong and first not in covered:
            yield Fault("position", f"this position cannot be: {'; '.join(wrong)}", first, last)


def _wrong_at(words: Sequence[str], dictation: Dictation, flaws: Sequence[str]) -> int:
    """The word of a dictation at which what is wrong with it stands."""
    inside = range(dictation.first, dictation.last)
    plain = {at: words[at].lower().strip("*_#\"'(.,;:)") for at in inside}
    if any("black king" in flaw for flaw in flaws):
        return next((at for at in inside if plain[at] == "black"), dictation.first)
    if any("kings" in flaw or "second king" in flaw for flaw in flaws):
        return next((at for at in reversed(inside) if plain[at] == "king"), dictation.first)
    for side in ("white", "black"):
        if any(side in flaw.split() for flaw in flaws):
            return next((at for at in inside if plain[at] == side), dictation.first)
    return dictation.first


def _headed(words: Sequence[str]) -> Iterator[tuple[int, int, dict[str, int]]]:
    """Positions spelled "White: ... Black: ..." or "White has ... Black has ... White to move", with the kings of each
    side."""
    plain = [word.lower().strip("*_#\"'(") for word in words]
    for first, word in enumerate(plain):
        if not _heads(plain, first, "white"):
            continue
        ahead = range(first, min(first + _LONGEST, len(plain)))
        middle = next((i for i in ahead if _heads(plain, i, "black")), None)
        if middle is None:
            continue
        last = next((i for i in range(middle, min(middle + _LONGEST, len(plain))) if plain[i][-1:] == "."), middle) + 1
        if word[-1:] != ":" and not heard("to-move").search(" ".join(plain[last : last + 4])):
            continue
        sections = {"White": plain[first:middle], "Black": plain[middle:last]}
        if not any(word.strip(".,;") in _KINGS for word in plain[first:last]):
            # "White: e4. Black: e5." is a talk of moves.
            continue
        yield (
            first,
            last,
            {side: sum(w.strip(".,;") in _KINGS for w in part) for side, part in sections.items()},
        )


def _heads(plain: Sequence[str], at: int, side: str) -> bool:
    """Whether a side's men are told from a word on."""
    behind = plain[at + 1] if at + 1 < len(plain) else ""
    return plain[at] == f"{side}:" or (plain[at] == side and behind in ("has", "owns", "keeps"))
