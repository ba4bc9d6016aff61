"""What stands around a phrase: cues, the words beside it, numbers, the sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import snowballstemmer

from lesson.hear.phrase import Phrase
from lesson.hear.scan import Scan
from lesson.hear.tokens import COUNTING, Token

_CONTEXT = 4
CONTEXT_AFTER = 5
_NUMBERS = {word: number for word, number in COUNTING.items() if number <= 20}
_BETWEEN = frozenset(
    [
        "the",
        "this",
        "that",
        "a",
        "his",
        "her",
        "my",
        "your",
        "our",
        "of",
        "to",
        "moment",
        "when",
        "where",
        "with",
        "just",
        "played",
        "here",
        "white",
        "black",
    ]
)
_CUE_KINDS = {
    "nav", "chapter", "if", "threat", "refuse", "slip", "purpose", "would", "past", "but", "so", "stand", "point",
    "all", "exd", "other", "back", "go",
}  # fmt: skip


_SHORTEST_DOING = 4  # letters: a king does nothing
_STEMMER = snowballstemmer.stemmer("english")


@cache
def stem(word: str) -> str:
    """The word without its ending (M. F. Porter's Snowball stemmer for English)."""
    return str(_STEMMER.stemWord(word))


class Around(Scan):
    """Finishes a phrase with what stands around it."""

    def _reference(self, first: int) -> str:
        """The cue of going back that ends right before token `first`, small words between allowed; "undone" where the
        phrase is what is not done ("instead of bringing his bishop out")."""
        doing = False
        for j in range(first - 1, max(-1, first - 4), -1):
            for s in self.at[j]:
                if s.kind == "nav" and s.value in (("instead",) if doing else ("instead", "after", "back")):
                    return "undone" if doing else s.value
            text = self.tokens[j].text
            doing = doing or (text.endswith("ing") and len(text) > _SHORTEST_DOING)
            if self._barrier(j) or not (doing or text in _BETWEEN):
                return ""
        return ""

    def _finish(self, phrase: Phrase, first: int, last: int, free: int) -> Phrase:
        tokens = self.tokens
        lo = max(free, first - 14)
        cues: set[str] = set()
        inside: set[str] = set()
        numbers: list[int] = []
        for i in range(lo, last):
            for s in self.at[i]:
                if s.kind == "nav" and s.value == "movenum" and s.first >= lo:
                    if s.first == i and i + 1 < len(tokens):
                        numbers += _numbers(tokens, i + 1)
                    cues.add("nav:movenum")
                elif s.kind in _CUE_KINDS:
                    name = f"{s.kind}:{s.value}" if s.value else s.kind
                    (inside if i >= first else cues).add(name)
        left = [f"L{k}={tokens[first - k].text}" for k in range(1, _CONTEXT + 1) if first - k >= max(0, free - 1)]
        bag = sorted({f"B={stem(tokens[i].text)}" for i in range(max(free, first - 8), first)})
        right = [f"R{k}={tokens[last + k - 1].text}" for k in (1, 2) if last + k - 1 < len(tokens)]
        if first - 2 >= max(0, free - 1):
            left.append(f"L12={tokens[first - 2].text} {tokens[first - 1].text}")
        if last + 1 < len(tokens):
            right.append(f"R12={tokens[last].text} {tokens[last + 1].text}")
        right += sorted({f"RB={stem(token.text)}" for token in self._clause_after(last)})
        within = [
            f"I={stem(tokens[i].text)}"
            for i in range(first, last)
            if not (tokens[i].text.isdigit() or len(tokens[i].text) == 1)
        ]
        start = next((i for i in range(first, free - 1, -1) if tokens[i].opens), None)
        opening = [] if start is None else [f"S={tokens[start].text}"]
        if start is not None and start + 1 < len(tokens):
            opening.append(f"S2={tokens[start].text} {tokens[start + 1].text}")
        lead = first
        while lead > free and tokens[lead - 1].stop == 0:
            lead -= 1
        opens = any(tokens[i].opens for i in range(free, first + 1))
        return replace(
            phrase,
            first=tokens[first].word,
            last=tokens[last - 1].word + 1,
            cues=frozenset(cues),
            inside=frozenset(inside),
            context=(*left, *bag, *right, *within, *opening),
            numbers=tuple(numbers),
            opens=opens,
            gap=max(0, first - free),
            probability=min(tokens[i].probability for i in range(first, last)),
            lead=tokens[lead].word,
            ref=self._reference(first),
            after=self._after(last),
            asks=self._asks(last - 1),
            ends=sum(tokens[i].stop == 2 for i in range(max(0, free - 1), first)),
            judged=any(self.has(i, "judge") for i in range(free, first)),
        )

    def _clause_after(self, last: int) -> Sequence[Token]:
        """The words after a phrase up to the next stop, a few at most."""
        end = last
        while end < min(len(self.tokens), last + CONTEXT_AFTER) and self._barrier(end - 1) == 0:
            end += 1
        return self.tokens[last:end]

    def _after(self, last: int) -> frozenset[str]:
        """The cues in the next words of the sentence."""
        out: set[str] = set()
        for i in range(last, min(len(self.tokens), last + CONTEXT_AFTER)):
            if self._barrier(i - 1) == 2:
                break
            out.update(f"{s.kind}:{s.value}" if s.value else s.kind for s in self.at[i] if s.kind in _CUE_KINDS)
        return frozenset(out)

    def _asks(self, i: int) -> bool:
        while i + 1 < len(self.tokens) and self.tokens[i].stop < 2:
            i += 1
        return self.tokens[i].asks


def _numbers(tokens: Sequence[Token], i: int) -> list[int]:
    text = tokens[i].text
    if text == "number" and i + 1 < len(tokens):
        return _numbers(tokens, i + 1)
    if text.isdigit():
        while i + 1 < len(tokens) and tokens[i + 1].glued and tokens[i + 1].text.isdigit():
            i += 1
            text += tokens[i].text
        return [int(text)]
    if text == "twenty" and i + 1 < len(tokens) and _NUMBERS.get(tokens[i + 1].text, 10) < 10:
        return [20 + _NUMBERS[tokens[i + 1].text]]
    return [_NUMBERS[text]] if text in _NUMBERS else []
