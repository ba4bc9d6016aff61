"""`python -m tests.accuracy.teacher`: how many answers a teacher must give until the tree is the true one.

A simulated teacher knows the true tree. He goes through the talk from the beginning to the first thing that is wrong,
says what those words mean, lets the program read the talk again, and starts over. An answer is one of

- what move the words are ("Nf3"; for several in one breath one answer for each that is wrong); where the move was
  right and its place wrong, or the bare move did not help, from which position it is played ("Nf3 after 7. cxd5"),
- that they are not a move, or only a mention.

He stops when the tree is perfect: every move that was said is found, and no move is written that is not in the true
tree (`tests/accuracy/score.py`). What neither the move nor its position could put right is `stuck`: he goes on behind.

Keys count as on the page: choosing the words is one, an offered reading or "not a move" one, a typed move its letters
and Enter, a position on the board one.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import chess

from lesson.align import align_words, map_range
from lesson.corrections import Correction, Corrections, Kind, apply, correction_at, settled
from lesson.decode import decode
from lesson.model import Decoded, Event, Fact, Talk
from lesson.read import read_talk
from tests.accuracy.gold import SAMPLES, VERSIONS, GoldTalk, Span, load_gold, talk_folders
from tests.accuracy.score import Key, keys_of, per_hundred, score_tree

Range = tuple[int, int]
Decoder = Callable[[Talk, Sequence[Fact]], Decoded]
MOST = 300
"""Answers after which a talk is given up."""


@dataclass(slots=True)
class Report:
    """What a talk took: answers, keys, places that stayed wrong, and the tree's F1 before and after."""

    talk: str
    moves: int
    before: float = 0.0
    after: float = 0.0
    answers: int = 0
    keys: int = 0
    stuck: int = 0
    perfect: bool = False
    seconds: list[float] = field(default_factory=list)
    kinds: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Answer:
    """One thing the teacher says of the words `words`: the moves of `spans`, in the place `at` where that must be said;
    without spans that they are no move (`kind`)."""

    words: Range
    kind: Kind
    spans: tuple[Span, ...] = ()
    placed: bool = False
    wrong: int = 1

    @property
    def name(self) -> tuple[Range, str, bool]:
        return self.words, self.kind, self.placed


class Teacher:
    """Corrects one transcript of one talk."""

    def __init__(self, gold: GoldTalk, talk: Talk, decoder: Decoder) -> None:
        self.gold, self.talk, self.decoder = gold, talk, decoder
        ranges = align_words(gold.words, [word.text for word in talk.words])
        self.heard = [(span, map_range(ranges, *span.words)) for span in gold.spans]
        self.corrections = Corrections()
        self.given: set[tuple[Range, str, bool]] = set()
        self.stuck: set[object] = set()

    def run(self, trace: Callable[[str], None]) -> Report:
        """Correct until the tree is perfect or nothing helps."""
        report = Report(self.gold.name, score_tree(self.gold.pgn, self.gold.pgn).said)
        while True:
            begin = time.perf_counter()
            applied = apply(self.talk, self.corrections)
            decoded = settled(self.decoder(applied.talk, applied.facts), applied)
            report.seconds.append(time.perf_counter() - begin)
            score = score_tree(self.gold.pgn, decoded)
            report.after = score.f1
            report.before = report.before if len(report.seconds) > 1 else score.f1
            report.perfect = score.said_hit == score.said and len(score.right) == score.written
            done = report.perfect or report.answers >= MOST
            answer = None if done else self.next_answer(decoded, score.right)
            trace(f"{report.answers:4} F1 {score.f1:.3f} {_shown(answer, self.talk)}")
            report.stuck = len(self.stuck)
            if answer is None:
                return report
            report.answers += answer.wrong
            kind = "place" if answer.placed else answer.kind
            report.kinds[kind] = report.kinds.get(kind, 0) + answer.wrong
            report.keys += self.keys(answer, decoded)
            self.give(answer)

    # --------------------------------------------------------------------------------------------- what is wrong first

    def next_answer(self, decoded: Decoded, right: frozenset[Key]) -> Answer | None:
        """The answer to the first thing wrong that has not been given in vain; None when nothing is left to say."""
        wrong = sorted(
            [*self._missing(decoded, right), *self._added(decoded, right)], key=lambda found: (found[0], found[1])
        )
        for _, _, answers, thing in wrong:
            if thing in self.stuck:
                continue
            for answer in answers:
                if answer.name not in self.given:
                    return answer
            self.stuck.add(thing)
        return None

    def _missing(self, decoded: Decoded, right: frozenset[Key]) -> Iterator[tuple[int, int, list[Answer], object]]:
        """True moves that are not written and stand above, or are, one that was said."""
        written = set(keys_of(decoded)) | right
        plays = [(span, words) for span, words in self.heard if span.act == "play"]
        lacking = [span for span, _ in plays if span.how == "said" and self._key(span) not in written]
        for span, words in plays:
            key = self._key(span)
            if key in written or not any(self._key(s)[0] == key[0] and _above(key, self._key(s)) for s in lacking):
                continue
            together = (
                tuple(s for s, w in plays if w == words and s.how == span.how) if words[0] < words[1] else (span,)
            )
            absent = sum(self._key(s) not in written for s in together)
            yield words[0], 0, self._ways(words, together, absent, decoded), key

    def _added(self, decoded: Decoded, right: frozenset[Key]) -> Iterator[tuple[int, int, list[Answer], object]]:
        """Written moves that are not in the true tree."""
        keys = keys_of(decoded)
        for event in decoded.events:
            if event.act != "play" or keys[event.node] in right:
                continue
            told = [(s, w) for s, w in self.heard if s.san and s.act in ("play", "retell") and _shares(w, event)]
            if told:
                words = told[0][1]
                together = tuple(s for s, w in told if w == words)
                answers = self._ways(words, together, 1, decoded)
            elif event.first < event.last:
                spoken = any(s.act == "mention" and _shares(w, event) for s, w in self.heard)
                answers = [Answer((event.first, event.last), "mention" if spoken else "talk")]
            else:
                answers = []
            yield event.first, 1, answers, ("added", keys[event.node], event.first)

    def _ways(self, words: Range, spans: tuple[Span, ...], wrong: int, decoded: Decoded) -> list[Answer]:
        """The answers a teacher would try, in order: the move alone where another was understood, then its place."""
        moves = [e.uci for e in decoded.events if e.act in ("play", "retell") and _shares(words, e)]
        heard_right = all(span.path[-1] in moves for span in spans)
        bare = Answer(words, "move", spans, False, max(1, wrong))
        return ([] if heard_right else [bare]) + [Answer(words, "move", spans, True, max(1, wrong))]

    def _key(self, span: Span) -> Key:
        return chess.Board(self.gold.starts[span.chapter]).epd(), span.path

    # ------------------------------------------------------------------------------------------------------ the answers

    def give(self, answer: Answer) -> None:
        """Add what the answer says to the corrections."""
        self.given.add(answer.name)
        made: list[Correction] = []
        number = int(self.corrections.fresh_id()[1:])

        def add(kind: Kind, **what: Any) -> None:
            made.append(correction_at(self.talk.words, *answer.words, kind, f"c{number + len(made)}", **what))

        if answer.placed:
            add("return", path=answer.spans[0].path[:-1], chapter=answer.spans[0].chapter)
        for span in answer.spans:
            add("move", move=span.san)
        if not answer.spans:
            add(answer.kind)
        self.corrections = self.corrections.plus(*made)

    def keys(self, answer: Answer, decoded: Decoded) -> int:
        """Keys on the page for an answer."""
        offered = {
            uci
            for event in decoded.events
            if _shares(answer.words, event)
            for uci in (event.uci, *(rival.uci for rival in event.rivals))
        }
        moves = [1 if span.path[-1] in offered else len(span.san) + 1 for span in answer.spans] or [1]
        return answer.wrong + sum(sorted(moves)[-answer.wrong :]) + answer.placed


def _shares(words: Range, event: Event) -> bool:
    first, last = words
    empty = first == last or event.first == event.last
    return event.first <= last and first <= event.last if empty else event.first < last and first < event.last


def _above(key: Key, other: Key) -> bool:
    return other[1][: len(key[1])] == key[1]


def _shown(answer: Answer | None, talk: Talk) -> str:
    if answer is None:
        return "done"
    words = " ".join(word.text for word in talk.words[slice(*answer.words)])
    says = " ".join(span.san for span in answer.spans) or answer.kind
    return f"{answer.words} “{words}”: {says}{' and where' if answer.placed else ''}"


def _decoder(name: str, folds: Path | None) -> Decoder:
    if folds is None:
        return lambda talk, facts: decode(talk, facts=facts)
    from lesson.decode.weights import read_weights
    from lesson.hear.sounds import read_sounds

    weights, sounds = read_weights(folds / f"{name}.weights.json"), read_sounds(folds / f"{name}.sounds.json")
    return lambda talk, facts: decode(talk, weights, sounds, facts=facts)


def main(argv: Sequence[str] | None = None) -> int:
    """Correct every talk and print a table; 0 when every tree became perfect, else 1."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.accuracy.teacher", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--talks", type=Path, default=SAMPLES, help="folder of talks (default: the samples)")
    parser.add_argument("--version", default="heard-a", choices=list(VERSIONS), help="which transcript")
    parser.add_argument("--only", help="only these talks, comma separated")
    parser.add_argument("--folds", type=Path, help="tables learned without each talk (python -m lesson.learn --folds)")
    parser.add_argument("--trace", action="store_true", help="show every answer")
    options = parser.parse_args(argv)
    only = options.only.split(",") if options.only else None
    reports = []
    print(f"{'talk':<24}{'moves':>6}{'F1':>6}{'then':>6}{'answers':>9}{'/100':>6}{'keys/100':>10}{'stuck':>7}{'s':>6}")
    for folder in talk_folders(options.talks):
        if only is not None and folder.name not in only:
            continue
        gold = load_gold(folder)
        file = gold.files().get(options.version)
        if file is None:
            continue
        teacher = Teacher(gold, read_talk(file), _decoder(gold.name, options.folds))
        report = teacher.run(lambda line: print(line, flush=True) if options.trace else None)
        reports.append(report)
        median = sorted(report.seconds)[len(report.seconds) // 2]
        print(
            f"{report.talk:<24}{report.moves:>6}{report.before:>6.2f}{report.after:>6.2f}{report.answers:>9}"
            f"{per_hundred(report.answers, report.moves):>6.0f}{per_hundred(report.keys, report.moves):>10.0f}"
            f"{report.stuck:>7}{median:>6.1f}  {report.kinds}",
            flush=True,
        )
    moves = sum(r.moves for r in reports)
    print(
        f"all: {per_hundred(sum(r.answers for r in reports), moves):.1f} answers and "
        f"{per_hundred(sum(r.keys for r in reports), moves):.1f} keys per 100 moves; "
        f"{sum(r.perfect for r in reports)} of {len(reports)} trees perfect"
    )
    return int(not all(r.perfect for r in reports))


if __name__ == "__main__":
    sys.exit(main())
