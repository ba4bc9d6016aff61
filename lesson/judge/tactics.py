"""Claims of checks, mates, motifs, and of what attacks or defends what."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import chess

from lesson import exchanges, facts
from lesson.hear.claims import Claim
from lesson.hear.clauses import Man
from lesson.judge.scene import OPEN, Judgement, Scene, color, colors, no, told, yes
from lesson.judge.standing import lined_up, listed, matching, name

# Positions looked at for one "mate in n"; about half a second.
_MATE_NODES = 10_000


# ---------------------------------------------------------------------------------------------------- check and mate


def check(claim: Claim, scene: Scene) -> Judgement:
    board, side = scene.board, color(claim.side)
    if not board.is_check():
        return no(f"the {name(board.turn)} king on {_king(board)} is not attacked")
    if claim.manner == "in" and side is not None and side != board.turn:
        return no(f"it is {name(board.turn)} who is in check", board.checkers())
    evidence = f"{listed(board, board.checkers())} gives check"
    return told(claim.manner != "double" or len(board.checkers()) > 1, evidence, board.checkers())


def mate(claim: Claim, scene: Scene) -> Judgement:
    board = scene.board
    if board.is_checkmate():
        return yes(f"{listed(board, board.checkers())} gives check and there is no legal move", board.checkers())
    if not board.is_check():
        return no(f"the {name(board.turn)} king on {_king(board)} is not attacked")
    return no(f"{_answers(board)} still possible")


def stalemate(claim: Claim, scene: Scene) -> Judgement:
    board = scene.board
    if board.is_stalemate():
        return yes(f"{name(board.turn)} has no legal move and is not in check")
    return no("it is mate" if board.is_checkmate() else f"{_answers(board)} still possible")


def _answers(board: chess.Board) -> str:
    sans = [board.san(m) for m in board.legal_moves]
    return f"{', '.join(sans[:3])}{' and others are' if len(sans) > 3 else ' are' if len(sans) > 1 else ' is'}"


def _king(board: chess.Board) -> str:
    king = board.king(board.turn)
    return "" if king is None else chess.square_name(king)


def mate_in(claim: Claim, scene: Scene) -> Judgement:
    board, side = scene.board, color(claim.side)
    decided = True
    if side is None or side == board.turn:
        mate = facts.forced_mate(board, claim.number, _MATE_NODES)
        if mate.line:
            return yes("there is", (), _sans(board, mate.line))
        decided = mate.decided
    if decided and (side is None or side != board.turn):
        # The side that has just moved mates whatever the answer is.
        lines: list[tuple[chess.Move, ...]] = []
        for reply in board.legal_moves:
            after = board.copy(stack=False)
            after.push(reply)
            mate = facts.forced_mate(after, claim.number, _MATE_NODES)
            decided = decided and mate.decided
            if not mate.line:
                break
            lines.append((reply, *mate.line))
        else:
            if lines:
                longest = max(lines, key=len)
                return yes("there is", (), _sans(board, longest))
    return no(f"no mate in {claim.number} against every defence") if decided else OPEN


def _sans(board: chess.Board, moves: Iterable[chess.Move]) -> list[str]:
    board = board.copy(stack=False)
    return [board.san_and_push(move) for move in moves]


# ------------------------------------------------------------------------------------------------------------ motifs


def _agents(claim: Claim, scene: Scene) -> Iterator[int]:
    """The men that may be meant as doing it: those named, else those of the colour named, else of who just moved."""
    board = scene.board
    if claim.agents:
        man = claim.agents[0]
        yield from matching(board, man, colors(man.side, claim.side))
        return
    sides = colors(claim.side) if claim.side else [not board.turn] if scene.move else [chess.WHITE, chess.BLACK]
    for side in sides:
        yield from chess.scan_forward(board.occupied_co[side])


def _hit(board: chess.Board, agent: int, man: Man, own: bool = False) -> list[int]:
    """The squares meant by a man that another man attacks (or, with `own`, defends)."""
    color = board.color_at(agent)
    assert color is not None
    if not man.piece:
        square = chess.parse_square(man.square)
        return [square] if square in board.attacks(agent) else []
    return [s for s in matching(board, man, [color if own else not color]) if s in board.attacks(agent)]


def _on_empty(board: chess.Board, agent: int, man: Man) -> bool:
    """Whether a man would attack another, or a square, if nothing stood between."""
    if board.piece_type_at(agent) in (chess.PAWN, chess.KING):
        # Pawns stare at each other, kings at what they will reach.
        return True
    empty = chess.Board(None)
    empty.set_piece_at(agent, board.piece_at(agent))
    squares = [chess.parse_square(man.square)] if man.square else matching(board, man, [not board.color_at(agent)])
    return any(square in empty.attacks(agent) for square in squares)


def _behind(board: chess.Board, agent: int, man: Man) -> bool:
    """Whether a man would be attacked if the first enemy man on the line were gone."""
    side = board.color_at(agent)
    found = lined_up(board, bool(side)) if side is not None else ()
    return any(t.attacker == agent and t.behind in matching(board, man, [not side]) for t in found)


def fork(claim: Claim, scene: Scene) -> Judgement:
    board = scene.board
    for agent in _agents(claim, scene):
        hits = [_hit(board, agent, man) for man in claim.targets]
        found = sorted({s for hit in hits for s in hit})
        if not claim.targets:
            found = list(facts.fork_targets(board, agent))
        elif len(found) == 1 and len(claim.targets) == 1:
            found += [s for s in facts.fork_targets(board, agent) if s not in found]
        if all(hits) and len(found) >= 2:
            return yes(f"{listed(board, [agent])} attacks {listed(board, found)}", [agent, *found])
    return no(f"no {_who(claim)} attacks {'them both' if len(claim.targets) > 1 else 'two men at once'}")


def _who(claim: Claim) -> str:
    if not claim.agents:
        return "man"
    man = claim.agents[0]
    kind = {"": "man", "M": "piece"}.get(man.piece) or chess.piece_name(chess.PIECE_SYMBOLS.index(man.piece.lower()))
    return f"{kind} on {man.square}" if man.square else kind


def pin(claim: Claim, scene: Scene) -> Judgement:
    return _on_a_line(claim, scene, pin=True)


def skewer(claim: Claim, scene: Scene) -> Judgement:
    return _on_a_line(claim, scene, pin=False)


def _on_a_line(claim: Claim, scene: Scene, pin: bool) -> Judgement:
    """Pins and skewers: an attacker, a man in front and a man behind it."""
    board = scene.board
    fronts, behinds = claim.targets[:1], claim.behind or claim.targets[1:2]
    agents = set(chess.scan_forward(board.occupied))
    if claim.agents:
        agents = set(matching(board, claim.agents[0], colors(claim.agents[0].side)))
    doubtful: facts.LineTactic | None = None
    for side in chess.COLORS:
        proper = facts.pins(board, side) if pin else facts.skewers(board, side)
        for tactic in lined_up(board, side):
            if tactic.attacker not in agents:
                continue
            # Of two men on a line the one behind is skewered as well.
            ends = (tactic.front,) if pin or behinds else (tactic.front, tactic.behind)
            if fronts and not set(ends) & set(matching(board, fronts[0], colors(fronts[0].side))):
                continue
            if behinds and tactic.behind not in matching(board, behinds[0], colors(behinds[0].side)):
                continue
            to_king = board.piece_type_at(tactic.behind) == chess.KING
            if (claim.manner == "absolute" and not to_king) or (claim.manner == "relative" and to_king):
                continue
            if tactic in proper or (pin and behinds):
                text = f"{listed(board, [tactic.attacker])} looks through {listed(board, [tactic.front])}"
                men = (tactic.attacker, tactic.front, tactic.behind)
                return yes(f"{text} at {listed(board, [tactic.behind])}", men)
            if not pin or board.piece_type_at(tactic.behind) != chess.PAWN:
                # No man is pinned to a pawn, which is worth less.
                doubtful = tactic
    if doubtful is not None:
        return OPEN
    lines = [a for a in agents if scene.board.piece_type_at(a) in (chess.BISHOP, chess.ROOK, chess.QUEEN)]
    if not pin and fronts and any(_hit(scene.board, agent, fronts[0]) for agent in lines):
        # The king has stepped aside, and the skewer bites.
        return OPEN
    return no("no line-moving man looks through it at a man worth more" if pin else "no two men stand so on one line")


def discovered(claim: Claim, scene: Scene) -> Judgement:
    if scene.before is None or scene.move is None:
        return OPEN
    board = scene.board
    found = facts.discovered_attacks(scene.before, scene.move)
    for man in (Man("K"),) if claim.manner == "check" else claim.targets:
        found = tuple((a, t) for a, t in found if t in matching(board, man, [board.turn]))
    if found:
        attacker, target = found[0]
        return yes(f"{listed(board, [attacker])} now sees {listed(board, [target])}", found[0])
    return no("the move opened no line to it" if claim.targets or claim.manner else "the move opened no line to a man")


# -------------------------------------------------------------------------------------------- attacked and defended


def _meant(claim: Claim, scene: Scene) -> list[int] | Judgement:
    """Where the man stands that a claim is about; a judgement where there is none or none was named."""
    if not claim.targets or not (claim.targets[0].piece or claim.targets[0].square):
        return OPEN
    man = claim.targets[0]
    found = list(matching(scene.board, man, colors(man.side, claim.side)))
    if found or not (man.square and man.piece):
        return found or OPEN
    return no(f"no such man stands on {man.square}", [chess.parse_square(man.square)])


def _each(claim: Claim, scene: Scene, ask: Callable[[chess.Board, int], tuple[bool | None, str]]) -> Judgement:
    """True if the answer is yes for one of the men that may be meant, false if it is no for all; the other way about
    where it is said of every one of them, or that it is not so of one."""
    meant = _meant(claim, scene)
    if isinstance(meant, Judgement):
        return meant
    answers = [(square, *ask(scene.board, square)) for square in meant]
    enough = not (claim.every ^ claim.denied)
    decisive = [(square, evidence) for square, truth, evidence in answers if truth is enough]
    if not decisive and any(truth is None for _, truth, _ in answers):
        return OPEN
    if decisive:
        return told(enough, decisive[0][1], [decisive[0][0]])
    evidence = "; ".join(evidence for _, _, evidence in answers[:2])
    return told(not enough, evidence, [square for square, _, _ in answers])


def hanging(claim: Claim, scene: Scene) -> Judgement:
    def ask(board: chess.Board, square: int) -> tuple[bool | None, str]:
        side = board.color_at(square)
        enemies, friends = board.attackers(not side, square), facts.defenders(board, square)
        if enemies and (not friends or exchanges.exchange_value(board, square, not side) > 0):
            return True, f"{listed(board, enemies)} can take {listed(board, [square])}"
        if not friends:
            return None, ""
        how = "defended by" if enemies else "not attacked; it is defended by"
        return False, f"{listed(board, [square])} is {how} {listed(board, friends)}"

    return _each(claim, scene, ask)


def defended(claim: Claim, scene: Scene) -> Judgement:
    def ask(board: chess.Board, square: int) -> tuple[bool | None, str]:
        friends = facts.defenders(board, square)
        if claim.agents:
            friends = tuple(s for s in friends if s in set(matching(board, claim.agents[0], list(chess.COLORS))))
            return bool(friends), f"{listed(board, friends) or 'no ' + _who(claim)} defends {listed(board, [square])}"
        return bool(friends), f"{listed(board, friends) or 'nothing'} defends {listed(board, [square])}"

    return _each(claim, scene, ask)


def loose(claim: Claim, scene: Scene) -> Judgement:
    def ask(board: chess.Board, square: int) -> tuple[bool | None, str]:
        friends = facts.defenders(board, square)
        return not friends, f"{listed(board, friends) or 'nothing'} defends {listed(board, [square])}"

    return _each(claim, scene, ask)


def attacked(claim: Claim, scene: Scene) -> Judgement:
    def ask(board: chess.Board, square: int) -> tuple[bool | None, str]:
        side = board.color_at(square)
        enemies = list(board.attackers(not side, square)) if side is not None else []
        if claim.agents:
            enemies = [s for s in enemies if s in set(matching(board, claim.agents[0], list(chess.COLORS)))]
        return bool(enemies), f"{listed(board, enemies) or 'nothing'} attacks {listed(board, [square])}"

    return _each(claim, scene, ask)


def attacks(claim: Claim, scene: Scene) -> Judgement:
    return _reaches(claim, scene, own=(False,), verb="attacks")


def aims(claim: Claim, scene: Scene) -> Judgement:
    return _reaches(claim, scene, own=(False,), verb="attacks", through=True)


def defends(claim: Claim, scene: Scene) -> Judgement:
    return _reaches(claim, scene, own=(True,), verb="defends")


def controls(claim: Claim, scene: Scene) -> Judgement:
    return _reaches(claim, scene, own=(False, True), verb="controls")


def _does_all(claim: Claim, scene: Scene, agent: int, own: tuple[bool, ...]) -> bool:
    return all(any(_hit(scene.board, agent, target, o) for o in own) for target in claim.targets)


def _reaches(claim: Claim, scene: Scene, own: tuple[bool, ...], verb: str, through: bool = False) -> Judgement:
    """Every target is within reach of one man that may be meant; undecidable where, with `through`, it would be on an
    empty board."""
    if not claim.targets or claim.targets[0].piece == "M":
        return OPEN
    agents = list(_agents(claim, scene))
    if not claim.agents and not claim.side and own == (True,):
        # Who guards is not who has just moved.
        agents = list(chess.scan_forward(scene.board.occupied))
    several = bool(claim.agents) and claim.agents[0].piece == "M"
    if claim.denied and claim.agents and len({_does_all(claim, scene, a, own) for a in agents}) > 1:
        # Denied of one man, and another of the kind does it.
        return OPEN
    found: list[int] = []
    for target in claim.targets:
        pairs = [(a, s) for a in agents for o in own for s in _hit(scene.board, a, target, o)]
        if not pairs:
            behind = len(claim.targets) > 1 and any(_behind(scene.board, a, target) for a in agents)
            # "Pieces looking at my king": which of them, and through what, is left open.
            if behind or several or (not agents and not claim.agents[0].square):
                return OPEN
            if through and any(_on_empty(scene.board, a, target) for a in agents):
                return OPEN
            what = target.square or chess.piece_name(chess.PIECE_SYMBOLS.index(target.piece.lower()))
            return no(f"no {_who(claim)} {verb} {'the ' if not target.square else ''}{what}")
        found += pairs[0]
    return yes(f"{listed(scene.board, found[:1])} {verb} {', '.join(chess.square_name(s) for s in found[1::2])}", found)
