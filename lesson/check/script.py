"""A script not yet recorded, read strictly: every fault once, where it stands."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from lesson.check.advice import contradictions, unjudged_lines
from lesson.check.beside import Reading
from lesson.check.engine import Engine
from lesson.check.fault import ENGINE_KINDS, KINDS, Fault
from lesson.check.known import certain, drawn
from lesson.check.labels import missing_lines
from lesson.check.numbering import numbering_faults, written_numbers
from lesson.check.places import Spot, places
from lesson.check.returns import announced_returns, position_faults
from lesson.check.rewording import reworded
from lesson.check.said import Claims, surety
from lesson.check.second_opinion import doubts
from lesson.check.walk import Walk
from lesson.decode import Reader
from lesson.errors import ReadError
from lesson.hear.claims import Claim
from lesson.hear.dictation import Dictation
from lesson.hear.phrases import Phrase
from lesson.hear.sounds import FILES, RANKS, Sounds, load_sounds
from lesson.model import Decoded, Fact, Talk
from lesson.read import read_text
from lesson.read.draft import Flaws
from lesson.read.source import decode as text_of
from lesson.read.source import load
from lesson.settings import SURE_OF_CLAIM, SURE_OF_LINE

# A count so large that nothing else was ever meant.
_SURE = 1e6


@dataclass(frozen=True, slots=True)
class Finding:
    """A fault with the place of its first word and the end of its last."""

    path: str
    spot: Spot
    end: Spot
    fault: Fault


def check_script(
    path: Path, format: str | None = None, kinds: Collection[str] = tuple(KINDS), engine: Engine | None = None
) -> list[Finding]:
    """The faults of the script in the file `path`, of the given kinds, in the order in which they stand in it.

    `engine` is asked where its kinds are among them.

    Raises: ReadError when the file is no script, UsageError when `format` is unknown.
    """
    data = load(path)
    talk = read_text(data, str(path), format)
    try:
        spots = places(text_of(data, Flaws()), [word.text for word in talk.words])
    except ReadError as error:
        raise ReadError(f"{path}: {error}") from None
    asked = engine if ENGINE_KINDS & set(kinds) else None
    found = [fault for fault in faults(talk, asked) if fault.kind in kinds]
    return [Finding(str(path), spots[f.first], spots[max(f.first, f.last - 1)], f) for f in found]


def faults(talk: Talk, engine: Engine | None = None) -> list[Fault]:
    """Every fault of a talk, in the order of its words; what follows from one fault is not another."""
    return examined(talk, engine)[1]


def examined(talk: Talk, engine: Engine | None = None) -> tuple[Decoded, list[Fault]]:
    """What a talk tells, and its faults."""
    heard = reworded(talk)
    words, texts = [word.text for word in heard.words], [word.text for word in talk.words]
    recognised = any(word.probability is not None for word in talk.words)
    sounds = load_sounds() if recognised else written_sounds()
    reader = Reader(sounds=sounds)
    items = reader.heard(heard)
    known = [] if recognised else [*certain(words, items), *drawn(texts)]
    decoded = reader.read(heard, known)
    strict = _Strict(talk, words, items, decoded)
    if followed := strict.walk.followed:
        # The decoder has left out what can be played; with that known, it tells the rest of the line as well.
        moves = [Fact(event.first, event.last, "move", event.uci) for event, _ in followed]
        decoded = reader.read(heard, [*known, *moves])
        strict = _Strict(talk, words, items, decoded)
    walk, claims, found = strict.walk, strict.claims, strict.found
    found += (f for f in contradictions(words, decoded, walk.followed) if not walk.in_shadow(f.first))
    found += (f for f in unjudged_lines(words, decoded) if not walk.in_shadow(f.first))
    found += (f for f in _false_claims(words, claims) if not walk.in_shadow(f.first))
    sure = surety(decoded)
    found = [f for f in found if sure[_standing(decoded, f)] >= _needed(f)]
    if engine is not None:
        against = doubts(words, decoded, engine, lambda r: r.sure >= SURE_OF_CLAIM and not walk.in_shadow(r.first))
        found += [Fault(d.kind, d.message, d.remark.first, d.remark.last, d.remark.fen) for d in against]
    return decoded, sorted(found, key=lambda fault: (fault.first, list(KINDS).index(fault.kind)))


class _Strict:
    """A told tree beside the words that told it: the `walk` over them, the faults `found` on it, the `claims`."""

    def __init__(self, talk: Talk, words: list[str], items: Sequence[Phrase | Dictation], decoded: Decoded) -> None:
        phrases = [item for item in items if isinstance(item, Phrase)]
        texts = [word.text for word in talk.words]
        found = list(position_faults(texts, [item for item in items if isinstance(item, Dictation)]))
        returns = list(announced_returns(words, phrases, decoded))
        found += (back.fault for back in returns if back.fault is not None)
        taken = {word for fault in found for word in range(fault.first, fault.last)}
        self.claims = Claims(words, decoded)
        told = [phrase for phrase in phrases if phrase.first not in taken]
        paragraphs = set() if talk.timed else {cue.first for cue in talk.cues}
        spoken_of = _spoken_of(self.claims.claims)
        self.walk = Walk(Reading(words, texts, told, decoded, spoken_of, paragraphs, returns, written_numbers(texts)))
        numbered, unnamed = list(numbering_faults(texts, decoded)), list(missing_lines(talk))
        self.walk.broken = sorted(fault.last for fault in (*found, *numbered, *unnamed))
        self.walk.impossible = {fault.last for fault in found if fault.kind == "position"}
        found += [*self.walk.faults(), *unnamed]
        missing = {fault.first for fault in found if fault.kind == "skipped"}
        found += (f for f in numbered if f.first not in missing | self.walk.placed and not self.walk.in_shadow(f.first))
        self.found = found


def _needed(fault: Fault) -> float:
    """How sure of its line a fault must be; an impossible position is one whatever was meant by it."""
    return {"position": 0.0, "claim": SURE_OF_CLAIM}.get(fault.kind, SURE_OF_LINE)


def _standing(decoded: Decoded, fault: Fault) -> int:
    """The node the script stands at where a fault begins."""
    return next((e.node for e in reversed(decoded.events) if e.first < fault.first), 0)


@lru_cache(maxsize=1)
def written_sounds() -> Sounds:
    """The ear for what was written, not heard: a letter is that letter, a digit that digit."""
    return Sounds({file: {file: _SURE} for file in FILES}, {rank: {rank: _SURE} for rank in RANKS})


def _spoken_of(claims: list[Claim]) -> set[int]:
    """The words of claims: the men and squares in them are spoken of, not moved."""
    return {word for claim in claims if claim.targets or claim.agents for word in range(claim.first, claim.last)}


def _false_claims(words: list[str], claims: Claims) -> Iterator[Fault]:
    for said in claims.judged():
        if said.judgement.truth == "false":
            claim = said.claim
            quoted = " ".join(words[claim.first : claim.last]).strip(".,;:!?")
            fen = claims.nodes[said.node].fen
            yield Fault("claim", f'"{quoted}" is not so: {said.judgement.evidence}', claim.first, claim.last, fen)
