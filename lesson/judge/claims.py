"""A claim and a board -> true, false or not decidable, with the evidence. Cautious: what words leave open counts in the
speaker's favour, so that only what no reading of them makes true is called false."""

from __future__ import annotations

from collections.abc import Callable

from lesson import facts
from lesson.hear.claims import Claim
from lesson.judge import structure, tactics
from lesson.judge.scene import Judgement, Scene

KINDS: dict[str, Callable[[Claim, Scene], Judgement]] = {
    "check": tactics.check,
    "mate": tactics.mate,
    "stalemate": tactics.stalemate,
    "matein": tactics.mate_in,
    "fork": tactics.fork,
    "pin": tactics.pin,
    "pinned": tactics.pin,
    "skewer": tactics.skewer,
    "skewered": tactics.skewer,
    "discovered": tactics.discovered,
    "hanging": tactics.hanging,
    "loose": tactics.loose,
    "defended": tactics.defended,
    "defends": tactics.defends,
    "attacks": tactics.attacks,
    "aims": tactics.aims,
    "attacked": tactics.attacked,
    "controls": tactics.controls,
    "up": structure.ahead,
    "down": structure.behind,
    "trade": structure.traded,
    "level": structure.level,
    "pair": structure.bishop_pair,
    "opposite": structure.opposite_bishops,
    "passed": structure.pawns_that(facts.passed_pawns, "is passed"),
    "isolated": structure.pawns_that(facts.isolated_pawns, "is isolated"),
    "doubled": structure.pawns_that(facts.doubled_pawns, "is doubled"),
    "open": structure.open_file,
    "halfopen": structure.half_open_file,
    "uncastled": structure.uncastled,
    "cannotcastle": structure.cannot_castle,
    "onlylegal": structure.only_legal,
    "only": structure.only_move,
    "opening": structure.opening,
}


def judge(claim: Claim, scene: Scene) -> Judgement:
    """Whether a claim is true in a position."""
    found = KINDS[claim.kind](claim, scene)
    if claim.denied and found.truth != "undecidable":
        return Judgement("false" if found.truth == "true" else "true", found.evidence, found.squares, found.line)
    return found
