"""Is it a move at all, and may it leave the position: what the words around a phrase say of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import chess

from lesson.check.beside import Reading, Told
from lesson.check.hearing import advised_words, heard
from lesson.check.legal import Spoken, is_said, meant, why_not
from lesson.hear.phrases import Phrase
from lesson.model import Event

# Cues of talk about moves that are not made.
_HEDGES = frozenset(("threat", "would", "refuse", "purpose", "past", "slip", "stand"))
# Cues that excuse leaving the position without a word.
_TURNS = frozenset(("if", "but", "chapter", "all", "would", "past", "refuse", "threat", "slip"))
# Those that do so over the stop of their sentence.
_LEADS = frozenset(
    ("if", "chapter", "nav:back", "nav:start", "nav:instead", "nav:earlier", "nav:game", "nav:movenum", "nav:line")
)
# Words between two moves that say no more than that the line goes on.
_BREATHS = 4
# Confidence of a return without a word that is believed at the start of a sentence.
SURE = 0.7


class Hints(Told):
    """What is said of moves around them."""

    def __init__(self, reading: Reading) -> None:
        super().__init__(reading)
        self.spoken_of, self.paragraphs = reading.spoken_of, reading.paragraphs
        self.advised = advised_words(reading.words)
        # The first words behind dictated positions: the first move from there.
        self.starts = {e.last for e in self.events if e.act == "chapter"}
        # Whether the phrase before was played.
        self.went_on = False
        # Whether the decoder stands elsewhere than the script, so that what it takes for a mention says nothing.
        self.is_astray = False

    def is_move(self, phrase: Phrase, spoken: Spoken, own: Sequence[Event], cursor: chess.Board) -> bool:
        """Whether words that moved nothing were nevertheless said as a move to play."""
        if self.is_recommended(phrase):
            return True
        if not self.is_told(phrase, spoken, cursor):
            return False
        if self.is_astray:
            return True
        legal = [e for e in own if e.act == "mention" and e.uci]
        strict = replace(spoken, piece="P") if self.is_bare(spoken) else spoken
        return not any(is_said(strict, self.board(e.node), chess.Move.from_uci(e.uci)) for e in legal)

    def is_recommended(self, phrase: Phrase) -> bool:
        """Whether the phrase is what the words before it recommend."""
        return bool(self.advised & set(range(phrase.first, phrase.last)))

    def is_told(self, phrase: Phrase, spoken: Spoken, cursor: chess.Board) -> bool:
        """Whether nothing around the words takes them for something else than a move to play."""
        # Cues count from the phrase before; of those in another sentence only the words of this one are asked.
        # Inside a move "f3, d5" is no "line 3 d".
        inside = phrase.inside - {"nav:line"}
        cues = inside if phrase.ends else phrase.cues | inside
        cues = self.without_means(phrase, cues)
        if cues & _HEDGES or phrase.asks or any(cue.startswith("nav") for cue in cues):
            return False
        if self.is_hedged(phrase):
            return False
        if self.spoken_of & set(range(spoken.first, spoken.last)) or self.is_denied(phrase):
            return False
        text = " ".join(self.words[min(phrase.lead, phrase.first) : phrase.last]).lower()
        if not spoken.piece or (spoken.piece == "P" and self.is_square(phrase)):
            told = heard("verb").search(text) or self.is_listed(phrase)
            if not spoken.piece or not (told or phrase.first in self.numbers):
                return bool(told)
        if spoken.castle:
            return "castling" not in text
        if self.is_exact(phrase):
            return True
        assert spoken.target is not None
        man = cursor.piece_at(spoken.target)
        refers = man is not None and not spoken.take and man.symbol().upper() == spoken.piece
        refers = refers and not heard("lands").search(text)
        lands = " on " not in f" {text} " or bool(heard("lands").search(text) or heard("answers-with").search(text))
        return not refers and lands and "pawns" not in text

    def is_denied(self, phrase: Phrase) -> bool:
        """Whether the words right behind the move say that it is not played."""
        return bool(heard("denied").search(self.behind(phrase)))

    def behind(self, phrase: Phrase) -> str:
        """The words right behind the phrase, "" where a stop stands between."""
        stops = self.words[phrase.last - 1][-1:] in ".?!;:,"
        return "" if stops else " ".join(self.words[phrase.last : phrase.last + 6]).lower()

    def told_before(self, phrase: Phrase) -> int:
        """The word behind the last square or castling named before a phrase, at most the words of the gap before it."""
        told = (p.last for p in reversed(self.phrases) if p.last <= phrase.first and p.kind in ("square", "castle"))
        return min(next(told, 0), phrase.first - phrase.gap - 1)

    def is_answered(self, phrase: Phrase) -> bool:
        """Whether the move is the one answered: "Black answers bishop g5 with e6"."""
        return self.behind(phrase).startswith("with ") and bool(heard("answered").search(self.sentence_before(phrase)))

    def without_means(self, phrase: Phrase, cues: frozenset[str]) -> frozenset[str]:
        """The cues, without a place that only "with the knight" seems to name."""
        return cues - {"nav:after"} if " with " in self.sentence_before(phrase) else cues

    def is_hedged(self, phrase: Phrase) -> bool:
        """Whether the sentence before the move, or its clause, speaks of what is not played."""
        sentence = self.sentence_before(phrase)
        sentence = sentence[max((found.start() for found in heard("so").finditer(sentence)), default=0) :]
        if self.mover(phrase) is not None:
            # "The knight on c3 heads for e4" is a move.
            return bool(heard("unreal").search(sentence))
        clause = sentence.rstrip(",.;:!? ").rpartition(",")[2]
        clause = clause[max((found.end() for found in heard("new-clause").finditer(clause)), default=0) :]
        return bool(heard("unreal").search(sentence) or heard("aside").search(clause))

    def is_listed(self, phrase: Phrase) -> bool:
        """Whether a bare square stands in a list of moves: right behind one that was played, and before a breath."""
        alone = self.went_on and phrase.gap == 0 and not phrase.ends and phrase.last - phrase.first == 1
        return alone and self.words[phrase.last - 1][-1:] in ",.;:!"

    def is_square(self, phrase: Phrase) -> bool:
        """Whether the phrase is one word with nothing but a square."""
        word = self.words[phrase.first].strip("(*_.,;:!?)")
        return phrase.last - phrase.first == 1 and word in chess.SQUARE_NAMES

    def is_given_up(self, phrase: Phrase, own: Sequence[Event]) -> bool:
        """Whether the decoder has taken a move in a list of moves for one only named."""
        named = any(e.act == "mention" and e.uci for e in own)
        listed = self.went_on and phrase.gap == 0 and not phrase.ends and not phrase.asks and not phrase.cues
        opens = phrase.first in self.starts or self.mover(phrase) is not None
        listed = listed or (self.went_on and self.is_exact(phrase)) or opens
        return named and listed and not self.is_hedged(phrase) and not self.is_denied(phrase)

    def goes_on(self, phrase: Phrase) -> bool:
        """Whether the words tell what is played next ("Black answers"); a bare "rook e5" may begin another line."""
        text = " ".join(self.words[min(phrase.lead, phrase.first) : phrase.last]).lower()
        return "go" in phrase.inside or bool(heard("verb").search(text)) or self.side_said(phrase) is not None

    def is_excused(self, phrase: Phrase, left: Event, spoken: Spoken, cursor: chess.Board) -> bool:
        """Whether something excuses a return without a word: a cue, or a new sentence and a sure decoder, unless the
        words have only overlooked a check or a pin."""
        # What turns away in another sentence does not turn this one.
        here = phrase.inside if phrase.ends else phrase.cues | phrase.inside
        here = self.without_means(phrase, here - {"nav:line"})
        if phrase.cues & _LEADS or here & _TURNS or any(c.startswith("nav") for c in here):
            return True
        if phrase.ref or phrase.rather:
            return True
        answers = cursor.is_check() and heard("replies").search(self.sentence_before(phrase))
        if not answers and any(self.told_before(phrase) <= start <= left.first for start in self.paragraphs):
            return True
        goes_on = self.goes_on(phrase)
        if goes_on and not cursor.is_game_over() and not meant(spoken, cursor):
            man = spoken if spoken.piece or spoken.castle else replace(spoken, piece="P")
            why, _ = why_not(man, cursor)
            if why == "in check" or (why == "pinned" and spoken.piece):
                return False
        if self.nodes[left.node].parent < 0 and left.confidence >= SURE:
            # A game begun anew needs no word.
            return True
        if not phrase.judged and phrase.gap <= _BREATHS and self.went_on and meant(spoken, cursor):
            # It can be played where the script stands, and nothing turns away from there.
            return False
        if not phrase.judged and (goes_on or heard("then").search(self.sentence_before(phrase))):
            return False
        return (phrase.ends > 0 or phrase.judged or phrase.gap > 2) and left.confidence >= SURE
