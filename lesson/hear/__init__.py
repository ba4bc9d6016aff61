"""What each stretch of words might mean, without a board."""

from __future__ import annotations

from lesson.hear.dictation import Dictation, find_dictations
from lesson.hear.grammar import load_grammar
from lesson.hear.names import find_names
from lesson.hear.phrases import Phrase, find_phrases
from lesson.hear.sounds import Sounds
from lesson.hear.tokens import tokenise
from lesson.model import Talk


def hear_talk(talk: Talk, sounds: Sounds) -> list[Phrase | Dictation]:
    """Every phrase and every dictated position of the talk, in order; a phrase inside a dictation is dropped."""
    words = [w.text for w in talk.words]
    tokens = tokenise(words, [w.probability for w in talk.words])
    dictations = find_dictations(words)
    inside = [(d.first, d.last) for d in dictations]
    found = find_phrases(tokens, load_grammar(), sounds, find_names(words))
    phrases = [p for p in found if not any(a < p.last and p.first < b for a, b in inside)]
    return sorted([*phrases, *dictations], key=lambda item: (item.first, item.last))
