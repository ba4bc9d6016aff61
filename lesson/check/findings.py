"""What the checks find in a talk that was told, as findings of its lesson."""

from __future__ import annotations

from dataclasses import replace

from lesson.check.said import claim_findings
from lesson.model import Decoded, Lesson, Talk
from lesson.settings import FLAG_BELOW


def checked(lesson: Lesson, talk: Talk, decoded: Decoded) -> Lesson:
    """`lesson` with the false claims of the talk it was assembled from, in the order said; nothing is found twice.

    On a line as unsure as a flagged move nothing is called false: there the program may have lost the thread, not the
    speaker.
    """
    # The lesson's words can be written to any file; those of the talk may hold half a character.
    words = tuple(replace(word, text=said.text) for word, said in zip(talk.words, lesson.words, strict=True))
    found = (*lesson.findings, *claim_findings(replace(talk, words=words), decoded, FLAG_BELOW))
    once = {(finding.kind, finding.words, finding.message): finding for finding in found}
    return lesson.model_copy(update={"findings": tuple(once.values())})
