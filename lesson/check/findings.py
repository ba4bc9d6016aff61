"""What the checks find in a talk that was told, as findings of its lesson."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from lesson.check.engine import Engine
from lesson.check.said import claim_findings
from lesson.check.second_opinion import doubts
from lesson.model import Decoded, Finding, Lesson, Talk
from lesson.settings import ASK_BELOW


def checked(lesson: Lesson, talk: Talk, decoded: Decoded, engine: Engine | None = None) -> Lesson:
    """`lesson` with the false claims of the talk it was assembled from, in the order said, then what `engine` says
    against the speaker; nothing is found twice.

    On a line as unsure as a flagged move nothing is called false: there the program may have lost the thread, not the
    speaker.
    """
    # The lesson's words can be written to any file; those of the talk may hold half a character.
    words = tuple(
        word if word.text == said.text else replace(word, text=said.text)
        for word, said in zip(talk.words, lesson.words, strict=True)
    )
    talk = replace(talk, words=words)
    found = [*lesson.findings, *claim_findings(talk, decoded, ASK_BELOW)]
    if engine is not None:
        found += _engine_findings(talk, decoded, engine)
    once = {(finding.kind, finding.words, finding.message): finding for finding in found}
    return lesson.model_copy(update={"findings": tuple(once.values())})


def _engine_findings(talk: Talk, decoded: Decoded, engine: Engine) -> Iterator[Finding]:
    words = [word.text for word in talk.words]
    for doubt in doubts(words, decoded, engine, lambda remark: remark.sure >= ASK_BELOW):
        remark = doubt.remark
        if doubt.kind == "engine":
            yield Finding(kind="engine", severity="warning", message=doubt.message)
        else:
            yield Finding(
                kind=doubt.kind,
                severity="warning",
                message=doubt.message,
                words=(remark.first, remark.last),
                start_ms=talk.words[remark.first].start_ms,
                fen=remark.fen,
            )
