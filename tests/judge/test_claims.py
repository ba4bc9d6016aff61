"""Claims on a board: a set labelled by hand, and each kind against python-chess or a position of the handbooks."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Literal

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.check.said import Claims, claim_findings
from lesson.hear.claims import Claim, find_claims
from lesson.hear.clauses import Man
from lesson.hear.grammar import load_grammar
from lesson.judge.claims import KINDS, judge
from lesson.judge.scene import Scene
from lesson.model import Cue, Decoded, Event, Node, Talk, Word
from tests.accuracy.gold import SAMPLES, load_gold, talk_folders
from tests.check.told import told_truly
from tests.decoded import told
from tests.judge.scenes import rows, scene_of
from tests.test_facts import boards

ROWS = rows()


def truths(text: str, scene: Scene) -> list[tuple[str, str]]:
    return [(claim.kind, judge(claim, scene).truth) for claim in find_claims(text.split())]


def truth(text: str, where: str) -> str:
    """What the board says to the one claim of a sentence."""
    ((_, found),) = truths(text, scene_of(where))
    return found


def test_the_labelled_sentences_are_judged_as_a_reader_judges_them() -> None:
    right = false = missed = 0
    for row in ROWS:
        wanted, found = Counter(row.expected), Counter(truths(row.text, row.scene))
        right += (wanted & found).total()
        false += (found - wanted).total()
        missed += (wanted - found).total()
    assert len(ROWS) >= 1700
    assert right / (right + false) >= 0.98
    assert right / (right + missed) >= 0.90


def test_every_kind_is_labelled_true_and_false_and_judged() -> None:
    labelled: dict[str, set[str]] = {}
    for row in ROWS:
        for kind, answer in row.expected:
            labelled.setdefault(kind, set()).add(answer)
    spoken = {rule.means.partition(":")[2] for rule in load_grammar("en-claims").rules if rule.means[:5] in _TURNS}
    assert spoken | {"opening"} == set(KINDS) == set(labelled)
    lacking = {kind for kind, answers in labelled.items() if not {"true", "false"} <= answers}
    # The only good move is no matter of rules; the other two are labelled false under the kinds they deny.
    assert lacking <= {"only", "skewered"}


_TURNS = ("claim", "done:")


def test_few_claims_of_our_own_talks_are_called_false_on_their_true_trees() -> None:
    """The speakers of the samples know what they say, so a false claim there is mostly a false alarm."""
    found: Counter[str] = Counter()
    for folder in talk_folders(SAMPLES):
        gold = load_gold(folder)
        found.update(said.judgement.truth for said in Claims(gold.words, told_truly(gold)).judged())
    assert found["true"] >= 60
    assert found["false"] <= 0.03 * found.total()


# ------------------------------------------------------------------------------------------ against python-chess itself


@given(boards())
def test_checks_mates_and_stalemates_are_python_chess_s(board: chess.Board) -> None:
    scene = Scene(board)
    assert judge(Claim(0, 1, 0, "check"), scene).truth == str(board.is_check()).lower()
    assert judge(Claim(0, 1, 0, "mate"), scene).truth == str(board.is_checkmate()).lower()
    assert judge(Claim(0, 1, 0, "stalemate"), scene).truth == str(board.is_stalemate()).lower()
    sides: tuple[tuple[Literal["w", "b"], bool], ...] = (("w", chess.WHITE), ("b", chess.BLACK))
    for side, color in sides:
        lost = judge(Claim(0, 1, 0, "uncastled", side), scene).truth == "true"
        assert lost == (not board.has_castling_rights(color))


@given(boards())
def test_attacks_and_absolute_pins_are_python_chess_s(board: chess.Board) -> None:
    for square in list(chess.scan_forward(board.occupied))[::4]:
        man = Man(chess.piece_symbol(board.piece_type_at(square) or 0).upper(), chess.square_name(square))
        side = board.color_at(square)
        assert side is not None
        pinned = judge(Claim(0, 1, 0, "pinned", targets=(man,), manner="absolute"), Scene(board)).truth == "true"
        assert pinned == (board.is_pinned(side, square) and man.piece != "K")
        attacked = judge(Claim(0, 1, 0, "attacked", targets=(man,)), Scene(board)).truth == "true"
        assert attacked == board.is_attacked_by(not side, square)
        for target in list(board.attacks(square))[:3]:
            claim = Claim(0, 1, 0, "controls", agents=(man,), targets=(Man("", chess.square_name(target)),))
            assert judge(claim, Scene(board)).truth == "true"


# ----------------------------------------------------------------------------------------------- against the handbooks


@pytest.mark.parametrize(
    ("text", "where", "expected"),
    [
        # FIDE Laws of Chess 2023: 5.1.1 checkmate, 5.2.1 stalemate, 3.8.2.1 castling rights, 3.9 check.
        ("It's mate.", "f3 e5 g4 Qh4#", "true"),
        ("It's stalemate.", "7k/5Q2/6K1/8/8/8/8/8 b - - 0 1", "true"),
        ("White can no longer castle.", "e4 e5 Ke2 Ke7 Ke1", "true"),
        ("White can no longer castle.", "e4 e5 Nf3 Nf6 Rg1 Ng8 Rh1", "false"),
        # P. Morphy's problem, mate in two by 1.Ra6 (Fine, "Basic Chess Endings" and every collection; FEN from memory).
        ("White has mate in two.", "kbK5/pp6/1P6/8/8/8/8/R7 w - - 0 1", "true"),
        ("White has mate in one.", "kbK5/pp6/1P6/8/8/8/8/R7 w - - 0 1", "false"),
        # Boden's mate and Anastasia's mate (Renaud and Kahn, "The Art of the Checkmate", 1953; FENs from memory).
        ("Bishop a6, and it's mate.", "2kr4/3p4/B1p5/8/5B2/8/8/6K1 b - - 0 1", "true"),
        ("It's mate.", "5r1k/4N1pp/8/7R/8/8/8/6K1 b - - 0 1", "false"),
        # The fork of the Fried Liver Attack and the pin of the Ruy Lopez, Steinitz Defence (any opening handbook).
        ("It forks the queen and the rook.", "e4 e5 Nf3 Nc6 Bc4 Nf6 Ng5 d5 exd5 Nxd5 Nxf7", "true"),
        ("The knight on c6 is pinned to the king.", "e4 e5 Nf3 Nc6 Bb5 d6", "true"),
        # The Elephant Trap: the pin on f6 is relative, the knight may take (Queen's Gambit Declined, any handbook).
        ("The knight on f6 is absolutely pinned.", "d4 d5 c4 e6 Nc3 Nf6 Bg5", "false"),
        # Discovered check of the Petrov Defence, 3...Nxe4 4.Qe2 Nf6 5.Nc6+ (any opening handbook).
        ("It's a discovered check.", "e4 e5 Nf3 Nf6 Nxe5 Nxe4 Qe2 Nf6 Nc6+", "true"),
        # Exchange Variation of the Ruy Lopez: Black has doubled c-pawns and the bishop pair (any opening handbook).
        ("Black has the bishop pair.", "e4 e5 Nf3 Nc6 Bb5 a6 Bxc6 dxc6", "true"),
        ("White has doubled c-pawns.", "e4 e5 Nf3 Nc6 Bb5 a6 Bxc6 dxc6", "false"),
        # Tarrasch Defence: White's exchange on d5 leaves an isolated d-pawn (Nimzowitsch, "My System", 1925).
        ("Black has an isolated pawn on d5.", "d4 d5 c4 e6 Nc3 c5 cxd5 exd5 Nf3 Nc6 g3 Nf6 Bg2 Be7 dxc5 Bxc5", "true"),
        ("The d-pawn is passed.", "d4 d5 c4 e6 Nc3 c5 cxd5 exd5 Nf3 Nc6 g3 Nf6 Bg2 Be7 dxc5 Bxc5", "false"),
        # French Exchange: the e-file is open. Open Sicilian: Black's half-open c-file, White's d-file (any handbook).
        ("The e-file is open.", "e4 e6 d4 d5 exd5 exd5", "true"),
        ("Black has the half-open c-file.", "e4 c5 Nf3 d6 d4 cxd4 Nxd4", "true"),
        ("Black has the half-open d-file.", "e4 c5 Nf3 d6 d4 cxd4 Nxd4", "false"),
        # Transposition: 1.c4 e6 2.Nc3 d5 3.d4 is a Queen's Gambit Declined (any opening handbook).
        ("We have transposed to the Queen's Gambit Declined.", "c4 e6 Nc3 d5 d4", "true"),
        ("We have transposed to the Caro-Kann.", "c4 e6 Nc3 d5 d4", "false"),
        # A count is called false where the whole count is against it: a piece less for a pawn, a pawn more than two.
        ("White is a pawn up.", "4k1n1/5ppp/8/8/8/8/4PPPP/4K3 w - - 0 1", "false"),
        ("White has an extra pawn.", "4k1n1/5ppp/8/8/8/8/4PPPP/4K3 w - - 0 1", "undecidable"),
        ("White is two pawns up.", "4k3/6pp/8/8/8/8/3PPPPP/4K3 w - - 0 1", "false"),
        ("White is a pawn up.", "4k3/6pp/8/8/8/8/3PPPPP/4K3 w - - 0 1", "undecidable"),
        # Values 1, 3, 3, 5, 9 and what "the exchange" is: common practice, no source.
        ("White is the exchange up.", "6k1/5ppp/3n4/8/8/8/5PPP/3R2K1 w - - 0 1", "true"),
        ("White has two pieces for the rook.", "6k1/5ppp/8/8/3r4/2B5/5PPP/2N3K1 w - - 0 1", "true"),
        # A waiting recapture counts: common practice, no source.
        ("Material is level.", "e4 d5 exd5", "true"),
    ],
)
def test_known_positions(text: str, where: str, expected: str) -> None:
    assert truth(text, where) == expected


# --------------------------------------------------------------------------------------------------- claims of a talk


def a_talk(text: str) -> Talk:
    words = tuple(Word(w) for w in text.split())
    return Talk("t", "text", words, (Cue(0, len(words)),))


def a_line(*told: tuple[str, int, int]) -> Decoded:
    """A tree of one line: SAN and the words that said it."""
    board = chess.Board()
    nodes, events = [Node(0, 0, -1, "", "", board.fen())], []
    for san, first, last in told:
        move = board.push_san(san)
        nodes.append(Node(len(nodes), 0, len(nodes) - 1, move.uci(), san, board.fen()))
        events.append(Event("play", first, last, len(nodes) - 1, move.uci(), san))
    return Decoded(tuple(nodes), tuple(events))


def test_a_false_claim_becomes_a_finding_with_its_words_and_position() -> None:
    talk = a_talk("e4 e5, queen h5, and that's mate. Knight c6.")
    decoded = a_line(("e4", 0, 1), ("e5", 1, 2), ("Qh5", 2, 4), ("Nc6", 7, 9))
    (finding,) = claim_findings(talk, decoded, 0.5)
    assert (finding.kind, finding.severity, finding.words) == ("claim", "error", (6, 7))
    assert finding.fen == decoded.nodes[3].fen
    assert "not attacked" in finding.message


def test_a_claim_may_announce_the_move_of_its_sentence() -> None:
    talk = a_talk("e4 e5 Bc4 Nc6 Qh5 Nf6, and it's mate, queen takes f7.")
    moves = (("e4", 0, 1), ("e5", 1, 2), ("Bc4", 2, 3), ("Nc6", 3, 4), ("Qh5", 4, 5), ("Nf6", 5, 6), ("Qxf7#", 9, 12))
    assert list(claim_findings(talk, a_line(*moves), 0.5)) == []


@pytest.mark.parametrize(
    ("text", "told", "found"),
    [
        # False as it stands: nothing else is named that would make it true.
        ("e4 e5 Nf3, and that's check.", (("e4", 0, 1), ("e5", 1, 2), ("Nf3", 2, 3)), 1),
        # A move that was said and not understood, one that is supposed, the answer to a question.
        ("e4 e5 Nf3 Nc6 Bb5 a6, bishop takes c6, check.", (("e4", 0, 1), ("e5", 1, 2), ("Nf3", 2, 3)), 0),
        ("e4 e5 Bc4, and if he sleeps, it's mate.", (("e4", 0, 1), ("e5", 1, 2), ("Bc4", 2, 3)), 0),
        ("e4 e5 Qh5. What's the idea? It's mate.", (("e4", 0, 1), ("e5", 1, 2), ("Qh5", 2, 3)), 0),
        # A king gives no check, so the check is the other side's next move, which has no other name.
        ("e4 e5 f4 Be7 Ke2 Bh4 Ke3, check.", (*((m, i, i + 1) for i, m in
         enumerate(("e4", "e5", "f4", "Be7", "Ke2", "Bh4", "Ke3"))),), 0),
        # The count is right when the exchange that the sentence tells is over.
        ("e4 e5 Nf3 Nc6 Bb5 a6, White is a pawn up, takes, takes, takes.", (*((m, i, i + 1) for i, m in
         enumerate(("e4", "e5", "Nf3", "Nc6", "Bb5", "a6"))), ("Bxc6", 11, 12), ("dxc6", 12, 13), ("Nxe5", 13, 14)), 0),
        # Before the first move the talk is of what is to come.
        ("Tonight the passed pawn, my friends. e4.", (("e4", 6, 7),), 0),
        # A man named where none such stands any more; where none ever stood it is an error.
        ("e4 e5 Nf3 Nc6 Bb5 a6 Ba4, and the bishop on b5 attacks g7.", tuple((m, i, i + 1) for i, m in
         enumerate(("e4", "e5", "Nf3", "Nc6", "Bb5", "a6", "Ba4"))), 0),
        ("e4 e5 Nf3 Nc6 Bb5 a6 Ba4, and the bishop on h3 attacks g7.", tuple((m, i, i + 1) for i, m in
         enumerate(("e4", "e5", "Nf3", "Nc6", "Bb5", "a6", "Ba4"))), 1),
        # The next move mates.
        ("f3 e5 g4. Mate, and goodnight.", (("f3", 0, 1), ("e5", 1, 2), ("g4", 2, 3)), 0),
        # The subject is no man; what is told of another day, or follows from a move not made.
        ("e4 e5 Nf3 Nc6, and the dentist hits the lady.", (*((m, i, i + 1) for i, m in
         enumerate(("e4", "e5", "Nf3", "Nc6"))),), 0),
        ("e4 e5 Nf3. Move the knight and it's mate.", (("e4", 0, 1), ("e5", 1, 2), ("Nf3", 2, 3)), 0),
        ("e4 e5 Nf3, and next door it's mate.", (("e4", 0, 1), ("e5", 1, 2), ("Nf3", 2, 3)), 0),
        # An alternative to the move played.
        ("e4 e5 Nf3 Nc6, though f6 defending e5 is the old thing.", (*((m, i, i + 1) for i, m in
         enumerate(("e4", "e5", "Nf3", "Nc6"))),), 0),
        # Nobody counts before a man is taken.
        ("e4 e5, and White is a pawn up.", (("e4", 0, 1), ("e5", 1, 2)), 0),
    ],
)  # fmt: skip
def test_what_may_be_said_of_another_position_is_not_called_false(
    text: str, told: tuple[tuple[str, int, int], ...], found: int
) -> None:
    assert len(list(claim_findings(a_talk(text), a_line(*told), 0.5))) == found


def test_both_and_neither_are_said_of_every_man() -> None:
    where = "r6k/8/8/3B4/8/5r2/8/6K1 w - - 0 1"
    assert truth("Both rooks hang.", where) == "true"
    assert truth("Both rooks hang.", "r4r1k/8/8/3B4/8/8/8/6K1 w - - 0 1") == "false"
    assert truth("Neither rook is protected.", where) == "true"
    assert truth("Neither rook is protected.", where.replace("5r2", "r7")) == "false"


def test_the_man_behind_may_be_named_first() -> None:
    skewer = "4q3/8/8/8/4k3/8/8/K3R3 b - - 0 1"
    assert truth("It skewers the queen behind the king.", skewer) == "true"
    assert truth("The rook pins the king in front of the queen.", skewer.replace("4k3", "4n3")) == "false"


def test_a_claim_on_an_unsure_line_is_left_alone() -> None:
    talk = a_talk("e4 e5, queen h5, and that's mate.")
    decoded = a_line(("e4", 0, 1), ("e5", 1, 2), ("Qh5", 2, 4))
    unsure = Decoded(decoded.nodes, tuple(replace(event, confidence=0.3) for event in decoded.events))
    assert list(claim_findings(talk, unsure, 0.5)) == []


@given(told())
def test_any_talk_can_be_asked(pair: tuple[Talk, Decoded]) -> None:
    talk, decoded = pair
    words = [word.text for word in talk.words]
    for said in Claims(words, decoded).judged():
        assert 0 <= said.claim.first <= said.claim.core < said.claim.last <= len(words)


CLAIMING = (
    *("check", "mate,", "the", "knight", "king", "on", "f6", "is", "pinned", "to", "forks", "and", "rook", "a", "up"),
    *("pawn", "passed", "e-file", "open", "hanging.", "White", "by", "both", "d", "isolated", "this", "Najdorf"),
)


@given(st.lists(st.sampled_from(CLAIMING), max_size=30))
def test_any_heap_of_claim_words_is_judged(texts: list[str]) -> None:
    scene = scene_of("e4 c5 Nf3 d6 d4 cxd4 Nxd4 Nf6 Nc3 a6")
    for claim in find_claims(texts):
        judge(claim, scene)


def test_the_corpus_names_its_sources() -> None:
    head = Path(__file__).with_name("claims.txt").read_text(encoding="utf-8").split("@start")[0]
    assert "Sources:" in head
