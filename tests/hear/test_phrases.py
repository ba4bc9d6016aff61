"""What the ear makes of sentences of our own, right and misheard."""

from __future__ import annotations

import pytest

from lesson.hear.grammar import load_grammar
from lesson.hear.phrases import Phrase, find_phrases
from lesson.hear.sounds import FILES, RANKS, load_sounds
from lesson.hear.tokens import split_word, tokenise


def heard(text: str) -> list[str]:
    """One word per phrase: piece, x for a capture, square or kind, + # = as said."""
    return [_short(p) for p in find_phrases(tokenise(text.split()), load_grammar(), load_sounds())]


def _short(phrase: Phrase) -> str:
    square = phrase.castle or phrase.kind
    if phrase.files is not None and phrase.ranks is not None:
        square = FILES[phrase.files.index(min(phrase.files))] + RANKS[phrase.ranks.index(min(phrase.ranks))]
    end = "#" if phrase.mate else "+" if phrase.check else ""
    return f"{phrase.piece}{'x' if phrase.take else ''}{square}{end}"


@pytest.mark.parametrize(
    ("text", "phrases"),
    [
        ("knight f3, knight c6,", ["Nf3", "Nc6"]),
        ("night f3, night c6,", ["Nf3", "Nc6"]),
        ("Knight F six, bishop B five", ["Nf6", "Bb5"]),
        ("bishop takes c6 check", ["Bxc6+"]),
        ("the queen drops in on g6 with check", ["Qg6+"]),
        ("he took on f6 with the knight", ["Nxf6"]),
        ("rook a to c1", ["Rc1"]),
        ("knight c to e7,", ["Ne7"]),
        ("NC3 and RE1", ["Nc3", "Re1"]),
        ("rookie 1", ["Re1"]),
        ("castles long", ["long"]),
        ("queen h7 mate", ["Qh7#"]),
        ("Nxe5+", ["Nxe5+"]),
        ("E45,", ["e4", "e5"]),
        ("he takes the d5 pawn", ["xd5"]),
        ("f-6-bishop e-7-knight takes c-5-knight takes.", ["f6", "Be7", "Nxc5", "Nxtake"]),
        ("king d5, rookie to check,", ["Kd5", "Re2+"]),
        ("bishop e7, ricky i, all healthy", ["Be7", "Re1"]),
        ("we go to the shop, rookie to us", []),
        ("and then king e5 look at that", ["Ke5"]),
        ("he takes back and d5 kicks it", ["xtake", "d5"]),
        ("he grabs on f4 knight takes d5", ["xf4", "Nxd5"]),
        ("the f4 knight takes d5", ["Nxd5"]),
        ("up goes the H1 to squares, and then h5", ["Ppawn", "h5"]),
        ("he took with the H1, and I", ["Pxtake"]),
        ("the H1 rook takes b1", ["Rxb1"]),
        ("he hangs on, be five.", ["b5"]),
        ("it must be five of them", []),
        ("I gave up a bishop He took it with the rook My knight came to e4", ["Rxtake", "Ne4"]),
    ],
)
def test_a_sentence_becomes_phrases(text: str, phrases: list[str]) -> None:
    assert heard(text) == phrases


UNSTOPPED = "and then e4 e5 knight f3 knight c6 bishop b5 a6 the bishop goes back to a4 and knight f6 castles "


def test_two_moves_run_together_where_no_stops_are_written() -> None:
    assert heard(UNSTOPPED + "d takes knight f6")[-2:] == ["Pxtake", "Nf6"]
    assert heard(UNSTOPPED + "takes takes d4")[-2:] == ["xtake", "xd4"]
    *_, last = find_phrases(tokenise((UNSTOPPED + "king takes d4").split()), load_grammar(), load_sounds())
    assert last.split is not None
    capture, move = last.split
    assert (capture.kind, capture.piece, move.kind, move.take) == ("take", "K", "square", False)
    assert find_phrases(tokenise(["king", "takes", "d4,"]), load_grammar(), load_sounds())[0].split is None


@pytest.mark.parametrize("text", ["so one day it rained", "the year 1911 was long", "we had tea at half past nine"])
def test_ordinary_talk_names_no_square(text: str) -> None:
    assert not [p for p in heard(text) if p[:1] in FILES and len(p) == 2]


@pytest.mark.parametrize(
    ("word", "tokens"),
    [
        ("F6,", ["f", "6"]),
        ("a-pawn", ["a", "pawn"]),
        ("I'd", ["i'd"]),
        ("Nxe5+", ["knight", "takes", "e", "5", "check"]),
        ("exd5", ["e", "takes", "d", "5"]),
        ("O-O-O", ["castles", "long"]),
        ("...", []),
        ("bg4", ["bishop", "g", "4"]),
        ("qxd8+", ["queen", "takes", "d", "8", "check"]),
        ("bxc4", ["b", "takes", "c", "4"]),
    ],
)
def test_a_word_is_split_into_tokens(word: str, tokens: list[str]) -> None:
    assert split_word(word) == tokens


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("g3 instead of h3, and then d5", [("h3", ""), ("", "trails"), ("", "")]),
        ("instead of h3, Black plays g3", [("", "leads"), ("h3", "")]),
        ("he takes. Instead of recapturing, Black goes e4", [("", ""), ("", "leads"), ("xtake", "")]),
        ("instead of h3. Now g3", [("", ""), ("", "")]),
    ],
)
def test_what_a_move_is_told_instead_of(text: str, told: list[tuple[str, str]]) -> None:
    found = []
    for phrase in find_phrases(tokenise(text.split()), load_grammar(), load_sounds()):
        other = _short(phrase.rather) if phrase.rather is not None else ""
        found.append((other, "trails" if phrase.trails else "leads" if phrase.leads else ""))
    assert found == told


def _context(text: str) -> set[str]:
    return set(find_phrases(tokenise(text.split()), load_grammar(), load_sounds())[0].context)


def test_words_around_a_phrase_are_known_by_their_stems() -> None:
    assert "I=threaten" in _context("He is threatening to play e5.") & _context("He threatens to play e5.")


def test_pairs_of_words_and_the_words_up_to_the_next_stop_are_known() -> None:
    context = _context("But in this line e5 was possible, so they say.")
    assert {"L12=this line", "R12=was possible"} <= context
    assert {c for c in context if c.startswith("RB=")} == {"RB=was", "RB=possibl"}


@pytest.mark.parametrize(
    ("text", "refs"),
    [
        ("instead of h3, black plays g3", ["instead", ""]),
        ("instead of bringing his bishop out, black jumps in, knight d4", ["undone", ""]),
        ("after castling, knight f3", ["after", ""]),
        ("instead the king goes to e2", ["instead"]),
    ],
)
def test_what_is_not_done_is_told_from_what_is(text: str, refs: list[str]) -> None:
    found = find_phrases(tokenise(text.split()), load_grammar(), load_sounds())
    assert [phrase.ref for phrase in found] == refs
