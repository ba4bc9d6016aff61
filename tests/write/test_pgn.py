"""The export format, rule by rule. Sections are those of the PGN standard of 1994 (Edwards)."""

from __future__ import annotations

import re

import chess
import pytest
from hypothesis import HealthCheck, given, settings

from lesson.model import Event, Lesson, LessonMove, Rival
from lesson.write import pgn_text
from lesson.write.pgn import BRIEF_WORDS, TAG_LENGTH, WIDTH, clock
from tests.decoded import lessons
from tests.write.made import lesson_of, line_of, said, tree_of

quick = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))

# The sample game of section 2.3 (world championship match of 1992, game 29): its moves, and where the published text
# breaks its lines. Values from memory; that the moves are legal is checked by building the lesson from them.
SAMPLE = """\
1. e4 e5 2. Nf3 Nc6 3. Bb5 a6 4. Ba4 Nf6 5. O-O Be7 6. Re1 b5 7. Bb3 d6 8. c3
O-O 9. h3 Nb8 10. d4 Nbd7 11. c4 c6 12. cxb5 axb5 13. Nc3 Bb7 14. Bg5 b4 15.
Nb1 h6 16. Bh4 c5 17. dxe5 Nxe4 18. Bxe7 Qxe7 19. exd6 Qf6 20. Nbd2 Nxd6 21.
Nc4 Nxc4 22. Bxc4 Nb6 23. Ne5 Rae8 24. Bxf7+ Rxf7 25. Nxf7 Rxe1+ 26. Qxe1 Kxf7
27. Qe3 Qg5 28. Qxg5 hxg5 29. b3 Ke6 30. a3 Kd6 31. axb4 cxb4 32. Ra5 Nd5 33.
f3 Bc8 34. Kf2 Bf5 35. Ra7 g6 36. Ra6+ Kc5 37. Ke1 Nf4 38. g3 Nxh3 39. Kd2 Kb5
40. Rd6 Kc5 41. Ra6 Nf2 42. g4 Bd3 43. Re6"""


def movetext(text: str) -> str:
    """The movetext of the only game, lines joined."""
    return " ".join(text.split("\n\n")[1].split("\n"))


def noted(lesson: Lesson, **changes: object) -> Lesson:
    """`lesson` with the last move of its first chapter changed."""
    chapter = lesson.chapters[0]
    moves = (*chapter.moves[:-1], chapter.moves[-1].model_copy(update=changes))
    return lesson.model_copy(update={"chapters": (chapter.model_copy(update={"moves": moves}),)})


def test_sample_game_in_reduced_export_format() -> None:
    """3.2.4: no comments, tags of the roster only; lines filled as in 2.3, the result apart (nobody said it)."""
    sans = " ".join(token for token in SAMPLE.split() if not token.endswith("."))
    text = pgn_text(line_of(sans), "none")
    assert text == (
        '[Event "study"]\n[Site "?"]\n[Date "????.??.??"]\n[Round "-"]\n[White "?"]\n[Black "?"]\n[Result "*"]\n\n'
        f"{SAMPLE} *\n\n"
    )


def test_tags_stand_in_the_order_of_8_1() -> None:
    """The seven of 8.1.1 first, then the others in ASCII order; SetUp and FEN (9.7) off the initial array."""
    text = pgn_text(line_of("Kg4", fen="8/8/8/8/8/6K1/8/k7 w - - 4 61"))
    names = re.findall(r"^\[(\w+) ", text, flags=re.MULTILINE)
    assert names[:7] == ["Event", "Site", "Date", "Round", "White", "Black", "Result"]
    assert names[7:] == sorted(names[7:]) == ["Annotator", "FEN", "SetUp"]
    assert '[FEN "8/8/8/8/8/6K1/8/k7 w - - 4 61"]\n[SetUp "1"]\n' in text
    assert movetext(text) == "61. Kg4 *"


def test_no_set_up_from_the_initial_array() -> None:
    assert "SetUp" not in pgn_text(line_of("e4"))
    assert "FEN" not in pgn_text(line_of("e4"))


def test_the_en_passant_square_is_given_even_where_nothing_can_take() -> None:
    """16.1.3.4."""
    after_e4 = "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq e3 0 1"
    text = pgn_text(line_of("e5", fen=after_e4))
    assert f'[FEN "{after_e4}"]' in text
    assert movetext(text) == "1... e5 *"


@pytest.mark.parametrize(
    ("lines", "written"),
    [
        (["e4 e5 Nf3 Nc6"], "1. e4 e5 2. Nf3 Nc6 *"),
        (["e4 e5", "d4 d5"], "1. e4 (1. d4 d5) 1... e5 *"),
        (["e4 e5", "d4 d5", "c4"], "1. e4 (1. d4 d5) (1. c4) 1... e5 *"),
        (["e4 e5 Nf3", "e4 c5 Nf3 d6"], "1. e4 e5 (1... c5 2. Nf3 d6) 2. Nf3 *"),
        (
            ["e4 e5 Nf3 Nc6", "e4 e5 Nc3 Nf6", "e4 e5 Nc3 Nc6 Bc4"],
            "1. e4 e5 2. Nf3 (2. Nc3 Nf6 (2... Nc6 3. Bc4)) 2... Nc6 *",
        ),
        (["e4", "d4 d5 c4", "d4 d5 Nf3 Nf6", "d4 Nf6"], "1. e4 (1. d4 d5 (1... Nf6) 2. c4 (2. Nf3 Nf6)) *"),
        (["e4 e5", "e4 c5 Nf3", "e4 e6 d4 d5"], "1. e4 e5 (1... c5 2. Nf3) (1... e6 2. d4 d5) *"),
    ],
)
def test_numbers_and_sidelines(lines: list[str], written: str) -> None:
    """8.2.2.2 (numbers after every interruption, else none for Black) and 8.2.5 (a sideline after its rival)."""
    assert movetext(pgn_text(line_of(*lines), "none")) == written


def test_black_gets_a_number_after_a_comment_and_after_a_nag() -> None:
    """8.2.2.2 (a): after "annotation or commentary"; 8.2.4 calls a NAG an annotation."""
    nodes = tree_of("e4 e5")
    events = (Event("play", 0, 1, 1, "e2e4", "e4"), Event("play", 2, 3, 2, "e7e5", "e5"))
    assert movetext(pgn_text(lesson_of(said("e4 well e5"), nodes, events))) == "1. e4 { e4 well } 1... e5 *"
    lesson = line_of("e4 e5")
    first, second = lesson.chapters[0].moves
    moves: tuple[LessonMove, ...] = (first.model_copy(update={"nags": (1, 14)}), second)
    lesson = lesson.model_copy(update={"chapters": (lesson.chapters[0].model_copy(update={"moves": moves}),)})
    assert movetext(pgn_text(lesson)) == "1. e4 $1 $14 1... e5 *"


@pytest.mark.parametrize(
    ("line", "fen", "result"),
    [
        ("f3 e5 g4 Qh4#", chess.STARTING_FEN, "0-1"),
        ("Ra8#", "6k1/5ppp/8/8/8/8/8/R3K3 w - - 0 1", "1-0"),
        ("Qg6", "7k/8/8/8/8/8/6Q1/K7 w - - 0 1", "1/2-1/2"),
        ("e4", chess.STARTING_FEN, "*"),
        ("Kxa2", "8/8/8/8/8/8/q7/K6k w - - 0 1", "*"),
    ],
)
def test_result_is_what_the_board_says(line: str, fen: str, result: str) -> None:
    """8.2.6: the terminator equals the Result tag. Nothing but mate and stalemate ends a game by itself."""
    text = pgn_text(line_of(line, fen=fen))
    assert f'[Result "{result}"]' in text
    assert movetext(text).endswith(f" {result}")


def test_mate_in_a_sideline_leaves_the_result_open() -> None:
    text = pgn_text(line_of("f3 e5 g4 d5", "f3 e5 g4 Qh4#"))
    assert movetext(text) == "1. f3 e5 2. g4 d5 (2... Qh4#) *"


# ------------------------------------------------------------------------------------------------------------ comments


@pytest.mark.parametrize(
    ("ms", "shown"), [(0, "0:00"), (47_999, "0:47"), (605_000, "10:05"), (3_599_999, "59:59"), (3_723_000, "1:02:03")]
)
def test_clock(ms: int, shown: str) -> None:
    assert clock(ms) == shown


def test_every_visit_to_a_move_opens_with_its_time_in_one_comment() -> None:
    nodes = tree_of("e4 e5", "e4 c5")
    talk = said("Welcome. Here e4 a fine move e5 now back please c5 done", pace_ms=10_000)
    events = (
        Event("play", 2, 3, 1, "e2e4", "e4", lead=1),
        Event("play", 6, 7, 2, "e7e5", "e5"),
        Event("return", 8, 10, 1, lead=7),
        Event("play", 10, 11, 3, "c7c5", "c5"),
    )
    assert movetext(pgn_text(lesson_of(talk, nodes, events))) == (
        "{ 0:00 Welcome. } 1. e4 { 0:10 Here e4 a fine move 1:10 now back please } 1... e5 (1... c5 { 1:40 c5 done }) *"
    )


def test_a_doubt_is_written_where_the_move_stands() -> None:
    nodes = tree_of("d4 d5 Nf3")
    rivals = (Rival("b1d2", "Nd2", 0.2), Rival("g1h3", "Nh3", 0.3), Rival("", "", 0.1))
    events = (
        Event("play", 0, 1, 1, "d2d4", "d4"),
        Event("play", 1, 1, 2, "d7d5", "d5", origin="inferred", confidence=0.7),
        Event("play", 1, 3, 3, "g1f3", "Nf3", confidence=0.4, rivals=rivals),
    )
    lesson = lesson_of(said("d4 night three", 1000), nodes, events)
    assert movetext(pgn_text(lesson)) == (
        "1. d4 d5 { 0:01 (not said) } 2. Nf3 { 0:01 (unsure: also possible Nh3, Nd2, no move) } *"
    )
    assert movetext(pgn_text(lesson, "none")) == "1. d4 d5 2. Nf3 *"


def test_brief_keeps_the_first_words_and_every_doubt() -> None:
    nodes = tree_of("e4")
    events = (Event("play", 0, 1, 1, "e2e4", "e4", confidence=0.1),)
    talk = said("e4 " + " ".join(f"w{i}" for i in range(50)))
    kept = " ".join(f"w{i}" for i in range(BRIEF_WORDS - 1))
    text = pgn_text(lesson_of(talk, nodes, events), "brief")
    assert movetext(text) == f"1. e4 {{ e4 {kept} ... (unsure) }} *"


def test_braces_become_parentheses_and_are_reported() -> None:
    """Section 5 gives `}` no escape."""
    lesson = lesson_of(said("a {sly} [%csl Ge4] word"))
    assert movetext(pgn_text(lesson)) == "{ a (sly) (%csl Ge4] word } *"
    assert [finding.words for finding in lesson.findings] == [(1, 2), (2, 3)]


@pytest.mark.parametrize("sign", [";", "%"])
def test_no_line_starts_with_an_escape(sign: str) -> None:
    """Section 6."""
    text = pgn_text(lesson_of(said(f"{sign}x " * 400)))
    assert not re.search(r"^[;%]", text, flags=re.MULTILINE)


def test_tags_hold_no_quote_no_backslash_no_break() -> None:
    lesson = line_of("e4").model_copy(update={"name": 'a "b" \\ c\n[d]\t' + "x" * 300})
    event = pgn_text(lesson).split("\n")[0]
    assert event == f'[Event "{("a " + chr(39) + "b" + chr(39) + " / c [d] " + "x" * 300)[:TAG_LENGTH]}"]'


def test_title_stands_in_the_event_tag() -> None:
    assert pgn_text(line_of("e4"), title="Tuesday").startswith('[Event "Tuesday"]\n')


# ---------------------------------------------------------------------------------------------------------- properties


@quick
@given(lessons())
def test_lines_are_short_and_full(lesson: Lesson) -> None:
    """4.3: at most 79 characters, each line as full as it can be, no space at either end, LF only."""
    for game in pgn_text(lesson).split("\n\n")[1::2]:
        lines = game.split("\n")
        for line, following in zip(lines, [*lines[1:], ""], strict=True):
            assert len(line) <= WIDTH
            assert line == line.strip(" ")
            if following:
                assert len(line) + 1 + len(following.split(" ")[0]) > WIDTH


@quick
@given(lessons())
def test_only_the_portable_subset_is_written(lesson: Lesson) -> None:
    text = pgn_text(lesson)
    text.encode("utf-8")
    assert not re.search(r"^[;%]|[\x00-\x09\x0b-\x1f\x7f-\x9f\ufeff]|\[%", text, flags=re.MULTILINE)
    for game in text.split("\n\n")[1::2]:
        bare = re.sub(r"\{[^{}]*\}", "{}", game)
        assert not re.search(r"\) *\{|\} *\{|\( *\)|\( *\{|\{\} *\$|^\(", " ".join(bare.split()))
        assert bare.count("(") == bare.count(")")
        # Without its comments a game holds numbers, SAN, NAGs, parentheses and the result.
        rest = re.sub(r"\{\}|[()]", " ", bare).split()
        assert all(re.fullmatch(r"\d+\.(?:\.\.)?|[KQRBNa-hO][\w=+#-]+|\*|1-0|0-1|1/2-1/2", token) for token in rest)


@quick
@given(lessons())
def test_numbers_follow_the_rule_everywhere(lesson: Lesson) -> None:
    """8.2.2.2, by a walk over the tokens that knows the tree only through the parentheses; no reader checks numbers."""
    for game, chapter in zip(pgn_text(lesson).split("\n\n")[1::2], lesson.chapters, strict=True):
        ply = chess.Board(chapter.start_fen).ply()
        stack: list[int] = []
        interrupted = True
        number: str | None = None
        for token in re.findall(r"\{[^}]*\}|[()]|[^\s(){}]+", game)[:-1]:
            if token == "(":
                stack.append(ply)
                ply -= 1
                interrupted = True
            elif token == ")":
                ply = stack.pop()
                interrupted = True
            elif token.startswith("{"):
                interrupted = True
            elif token.endswith("."):
                number = token
            else:
                due = f"{ply // 2 + 1}{'...' if ply % 2 else '.'}"
                assert number == (due if interrupted or ply % 2 == 0 else None)
                number, interrupted, ply = None, False, ply + 1


@quick
@given(lessons())
def test_same_lesson_same_bytes(lesson: Lesson) -> None:
    assert pgn_text(lesson) == pgn_text(lesson.model_copy(deep=True))
