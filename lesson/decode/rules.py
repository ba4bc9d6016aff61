"""What speaks for each kind of action, apart from the place: readable features, one weight each."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lesson.decode.fit import CLEAN_COST, Features
from lesson.hear.gist import JUMPS, KINDS
from lesson.hear.phrases import Phrase


def name_features(phrase: Phrase, count: int, habit: float) -> Features:
    """What speaks for an opening's name being played, not only spoken of; `habit`: how many names were so far."""
    out: Features = [("name", 1.0), (f"name:{count}", 1.0), ("name:cost", phrase.text_cost), ("habit:name", habit)]
    out += [(f"name&{cue}", 1.0) for cue in sorted(phrase.cues)]
    out += [(f"name|{item}", 1.0) for item in phrase.context if item[0] in "LR"]
    return out


def misfit_features(phrase: Phrase, clean: bool) -> Features:
    """Plain talk is likelier where the phrase names nothing playable."""
    out: Features = [("none:fits" if clean else "none:misfit", 1.0)]
    if phrase.kind == "square" and phrase.form == "full":
        out.append((f"none:{'named' if phrase.piece else 'bare'}:{'fits' if clean else 'misfit'}", 1.0))
    return out


def there_features(phrase: Phrase, there: str, idle: float) -> Features:
    """Plain talk names men where they stand; `there`: whether such a man does ("just": it came last), `idle`: how
    often the talk named squares without a move."""
    out: Features = []
    if phrase.kind == "square":
        out.append(("habit:idle", idle))
    if there:
        named = f"there:{'named' if phrase.piece else 'bare'}:{there}"
        out.append((named, 1.0))
        if "I=on" in phrase.context or "I=at" in phrase.context:
            out.append((f"{named}:on", 1.0))
    return out


def filling(phrase: Phrase, known: bool, last: str, fits: bool, habit: float) -> Features:
    """What speaks for a move left out before this phrase; `last` is what the phrase before did (State.last), `fits`:
    the phrase could be played without it; `habit`: how often moves were left out so far."""
    out: Features = [("fill", 1.0), ("fill:gap", math.log1p(phrase.gap)), ("habit:fill", habit)]
    out += [(f"fill~{phrase.noise}", 1.0), (f"fill:last={last}", 1.0)]
    if known:
        out.append(("fill:known", 1.0))
    if fits:
        out += [("fill:fits", 1.0), (f"fill:fits:last={last}", 1.0), (f"fill:fits:{phrase.kind}", 1.0)]
    if phrase.kind in ("pawn", "piece"):
        out.append((f"fill:{phrase.kind}", 1.0))
    return out


def gist_features(phrase: Phrase, kinds: tuple[str, ...]) -> Features:
    """What the network that read the whole talk says for an action of these kinds."""
    return [(f"gist:{kind}", gist_value(phrase.gist, kind)) for kind in kinds] if phrase.gist else []


def gist_value(odds: Sequence[float], kind: str) -> float:
    """The value of a kind's feature, given the logarithms of the odds of KINDS. A move after others left unsaid is told
    at a place as any move is: "here" speaks for both, "fill" only for the difference. And "jump" speaks for all JUMPS,
    each of them only for the difference."""
    if kind == "jump":
        return math.log(sum(math.exp(odds[KINDS.index(jump)]) for jump in JUMPS))
    here, fill = odds[KINDS.index("here")], odds[KINDS.index("fill")]
    if kind == "here":
        return math.log(math.exp(here) + math.exp(fill))
    value = odds[KINDS.index(kind)]
    return value - here if kind == "fill" else value - gist_value(odds, "jump") if kind in JUMPS else value


def is_clean(features: Features) -> bool:
    """Whether nothing heard speaks loudly against the move."""
    cost = 0.0
    for name, value in features:
        if name in ("file", "rank", "ofile", "origin"):
            cost += value
        elif name.startswith("piece-") or name in ("victim-", "promote-", "step-", "mate-", "take?"):
            return False
    return cost < CLEAN_COST


def beside_features(source: bool, target: bool) -> Features:
    """What speaks for a move where others of the same man, or to the same square, were told."""
    out: Features = []
    if source:
        out.append(("beside:source", 1.0))
    if target:
        out.append(("beside:target", 1.0))
    return out


def none_features(phrase: Phrase, last: str) -> Features:
    """What speaks for the phrase being no move at all (plain talk, a plan, a threat)."""
    out: Features = [("none", 1.0), (f"none:{phrase.kind}", 1.0)]
    if phrase.form:
        out.append((f"none:form={phrase.form}", 1.0))
        out.append(("none:cost", phrase.text_cost))
    for cue in sorted(phrase.cues):
        out.append((f"none&{cue}", 1.0))
    for cue in sorted(phrase.inside):
        out.append((f"none&in:{cue}", 1.0))
    for item in phrase.context:
        out.append((f"none|{item}", 1.0))
    if phrase.piece:
        out.append(("none:piece", 1.0))
        out.append((f"none:{phrase.kind}:{phrase.piece}", 1.0))
    if phrase.take:
        out.append(("none:take", 1.0))
    if phrase.person:
        out.append((f"none:person={phrase.person}", 1.0))
    if phrase.side:
        out.append(("none:side", 1.0))
    if phrase.victim:
        out.append(("none:victim", 1.0))
    out.append(("none:gap", math.log1p(phrase.gap)))
    out.append(("none:length", float(phrase.last - phrase.first)))
    out.append(("none:unsure", 1.0 - phrase.probability))
    if phrase.opens:
        out.append(("none:opens", 1.0))
    if phrase.ref:
        out.append((f"none:ref={phrase.ref}", 1.0))
    out += [(f"none&after:{cue}", 1.0) for cue in sorted(phrase.after)]
    out.append((f"none:last={last}:{_distance(phrase)}", 1.0))
    if phrase.trails:
        out.append(("none:trails", 1.0))
    if phrase.leads:
        out.append(("none:leads", 1.0))
    if phrase.asks:
        out.append(("none:asks", 1.0))
    if phrase.judged:
        out.append(("none:judged", 1.0))
    return out


def _distance(phrase: Phrase) -> str:
    """How far the phrase stands from the one before."""
    return "sentence" if phrase.ends else "near" if phrase.gap <= 1 else "clause" if phrase.gap <= 4 else "far"


def return_features(phrase: Phrase, kind: str, relation: str) -> Features:
    """What speaks for "back to the position after (or before) this move"."""
    out: Features = [("ret", 1.0), (f"ret:{kind}", 1.0), (f"ret={relation}", 1.0), (f"ret:{phrase.kind}", 1.0)]
    if phrase.ref:
        out += [(f"ret:ref={phrase.ref}", 1.0), (f"ret:{kind}:ref={phrase.ref}", 1.0)]
    if phrase.trails:
        out.append(("ret:trails", 1.0))
    if phrase.leads:
        out.append(("ret:leads", 1.0))
    out += [(f"ret&after:{cue}", 1.0) for cue in sorted(phrase.after)]
    for cue in sorted(phrase.cues | phrase.inside):
        out.append((f"ret&{cue}", 1.0))
        if cue.startswith("nav"):
            out.append((f"ret:{kind}&{cue}", 1.0))
    for item in phrase.context:
        if item[0] in "LR":
            out.append((f"ret|{item}", 1.0))
    return out
