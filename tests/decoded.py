"""Random talks with the decoder's answer to them, for properties: legal trees, any words, every act."""

from __future__ import annotations

from dataclasses import dataclass, field

import chess
from hypothesis import strategies as st

from lesson.assemble import assemble
from lesson.model import Act, Cue, Decoded, Event, Lesson, Node, Origin, Rival, Talk, Word

ENDGAME = "8/5k2/8/8/8/3QK3/8/8 w - - 0 1"
PROMOTION = "8/P6k/8/8/8/8/p6K/8 b - - 3 41"
FRENCH_EN_PASSANT = "rnbqkbnr/ppp2ppp/4p3/3pP3/8/8/PPPP1PPP/RNBQKBNR w KQkq d6 0 3"
STARTS = (chess.STARTING_FEN, ENDGAME, PROMOTION, FRENCH_EN_PASSANT)

NASTY_WORDS = (
    *("{", "}", "{}", "}{", "a{b}c", "[%csl", "[%", "%", "%50", ";", ";note", "--", "$1", "(", ")", "1.", "1-0", "*"),
    *(
        "[Event",
        '"quoted"]',
        "\\",
        "e4",
        "O-O",
        "<b>",
        "a|b",
        "**bold**",
        "`code`",
        "&amp;",
        "1)",
        "#",
        "~~no~~",
        "_it_",
    ),
    *("tab\there", "line\nbreak", "nul\x00", "next\x85line", "para\u2029graph", "no\u00a0break", "\ufeffbom", "\ud800"),
    *("Läufer", "将棋", "♘f3", "e\u0301", "x" * 200, "%" * 170, "{" * 100, "0:47", "", " "),
)
PLAIN_WORDS = ("so", "here", "and", "then", "we", "take", "Night", "before", "knight", "f3,", "b4.", "Rook", "I7,")

words = st.one_of(st.sampled_from(PLAIN_WORDS), st.sampled_from(NASTY_WORDS), st.text(max_size=12))
shares = st.floats(0, 1, allow_nan=False)


@dataclass
class _Telling:
    """What has been told so far."""

    texts: list[str] = field(default_factory=list)
    nodes: list[Node] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    cursor: int = 0

    def start(self, fen: str) -> None:
        chapter = sum(node.parent < 0 for node in self.nodes)
        self.cursor = len(self.nodes)
        self.nodes.append(Node(self.cursor, chapter, -1, "", "", fen))

    def child(self, move: chess.Move) -> int:
        """The node after `move` at the cursor, made where it is not told yet."""
        parent = self.nodes[self.cursor]
        for node in self.nodes:
            if node.parent == parent.id and node.uci == move.uci():
                return node.id
        board = chess.Board(parent.fen)
        san = board.san_and_push(move)
        self.nodes.append(Node(len(self.nodes), parent.chapter, parent.id, move.uci(), san, board.fen()))
        return len(self.nodes) - 1


@st.composite
def told(draw: st.DrawFn, max_events: int = 18, timed: bool | None = None) -> tuple[Talk, Decoded]:
    """A talk and the answer to it: any acts in any order, shared ranges, unspoken moves, lead-in clauses, chapters."""
    telling = _Telling()
    telling.start(draw(st.sampled_from(STARTS)))
    for _ in range(draw(st.integers(0, max_events))):
        lead = len(telling.texts) if draw(st.booleans()) else None
        telling.texts += draw(st.lists(words, max_size=4))
        _tell(draw, telling, lead)
    telling.texts += draw(st.lists(words, max_size=4))
    is_timed = draw(st.booleans()) if timed is None else timed
    pace = draw(st.sampled_from((300, 250_000)))
    talk = Talk(
        name=draw(st.text(max_size=20)),
        format="made",
        words=tuple(
            Word(text, i * pace if is_timed else None, i * pace + 200 if is_timed else None)
            for i, text in enumerate(telling.texts)
        ),
        cues=(Cue(0, len(telling.texts)),),
        flaws=tuple(draw(st.lists(st.text(max_size=10), max_size=2))),
    )
    main = _main(draw, telling.nodes)
    titles = tuple(draw(words) for node in telling.nodes if node.parent < 0)
    return talk, Decoded(tuple(telling.nodes), tuple(telling.events), main, titles)


def lessons(max_events: int = 18, timed: bool | None = None) -> st.SearchStrategy[Lesson]:
    """Lessons assembled from random tellings."""
    return told(max_events, timed).map(lambda pair: assemble(*pair))


def _tell(draw: st.DrawFn, telling: _Telling, lead: int | None) -> None:
    """Add one event, or two that share their words."""
    first = len(telling.texts)
    act: Act = draw(st.sampled_from(("play", "play", "play", "play", "return", "mention", "chapter", "point", "talk")))
    moves = list(chess.Board(telling.nodes[telling.cursor].fen).legal_moves)
    if act in ("play", "mention", "point") and not moves:
        act = "return"
    silent = act in ("play", "return") and draw(st.integers(0, 4)) == 0
    telling.texts += [] if silent else draw(st.lists(words, min_size=1, max_size=4))
    last = len(telling.texts)
    if act == "chapter":
        telling.start(draw(st.sampled_from(STARTS)))
    elif act == "return":
        telling.cursor = draw(st.integers(0, len(telling.nodes) - 1))
    if act in ("play", "mention", "point"):
        for _ in range(draw(st.sampled_from((1, 1, 1, 2))) if act == "play" else 1):
            _move(draw, telling, act, first, last, lead)
        return
    reason = draw(st.sampled_from(("", "It fits *nowhere*."))) if act == "talk" else ""
    confidence = draw(shares) if act == "return" else 1.0
    telling.events.append(Event(act, first, last, telling.cursor, confidence=confidence, reason=reason, lead=lead))


def _move(draw: st.DrawFn, telling: _Telling, act: Act, first: int, last: int, lead: int | None) -> None:
    board = chess.Board(telling.nodes[telling.cursor].fen)
    moves = list(board.legal_moves)
    if not moves:
        return
    move = moves[draw(st.integers(0, len(moves) - 1))]
    rivals = tuple(
        Rival("", "", draw(shares)) if other is None else Rival(other.uci(), board.san(other), draw(shares))
        for other in draw(st.lists(st.sampled_from([None, *moves]), max_size=3))
    )
    san, uci = board.san(move), move.uci()
    origin: Origin = "inferred" if first == last else draw(st.sampled_from(("said", "named", "corrected")))
    if act == "play":
        known = len(telling.nodes)
        telling.cursor = telling.child(move)
        act = "play" if telling.cursor == known else "retell"
    elif act == "point":
        san = uci = ""
    telling.events.append(Event(act, first, last, telling.cursor, uci, san, origin, draw(shares), rivals, lead=lead))


def _main(draw: st.DrawFn, nodes: list[Node]) -> dict[int, int]:
    children: dict[int, list[int]] = {}
    for node in nodes:
        if node.parent >= 0:
            children.setdefault(node.parent, []).append(node.id)
    return {
        parent: draw(st.sampled_from(among))
        for parent, among in children.items()
        if len(among) > 1 and draw(st.booleans())
    }
