"""What each stretch of words might mean, without a board."""

from __future__ import annotations

from collections.abc import Sequence

from lesson.hear.dictation import Dictation, find_dictations
from lesson.hear.grammar import load_grammar
from lesson.hear.known import with_facts
from lesson.hear.names import find_names
from lesson.hear.phrases import Phrase, find_phrases
from lesson.hear.said_of import with_claims
from lesson.hear.sounds import Sounds
from lesson.hear.tokens import tokenise
from lesson.model import Fact, Talk


def hear_talk(talk: Talk, sounds: Sounds, facts: Sequence[Fact] = ()) -> list[Phrase | Dictation]:
    """Every phrase and every dictated position of the talk, in order; a phrase inside a dictation is dropped, and what
    shares words with a fact is replaced by it."""
    words = [w.text for w in talk.words]
    tokens = tokenise(words, [w.probability for w in talk.words])
    dictations = find_dictations(words)
    inside = [(d.first, d.last) for d in dictations]
    found = find_phrases(tokens, load_grammar(), sounds, find_names(words))
    phrases = [p for p in found if not any(a < p.last and p.first < b for a, b in inside)]
    items: list[Phrase | Dictation] = [*phrases, *dictations]
    items.sort(key=lambda item: item.first)
    return with_facts(with_claims(items, words), facts)
