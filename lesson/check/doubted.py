"""What the board denies speaks against what was heard: a false claim makes the moves that led to it less sure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from lesson.check.said import Claims
from lesson.model import Decoded
from lesson.settings import CLAIM_DENIED


def doubted(decoded: Decoded, words: Sequence[str]) -> Decoded:
    """The same tree, less sure of each move of which something false was said, and of those that follow it.

    What a teacher answered stays sure: there the speaker was wrong.
    """
    told = {event.node for event in decoded.events if event.act == "play" and event.confidence < 1.0}
    denied = {s.node for s in Claims(words, decoded).judged() if s.judgement.truth == "false" and s.node in told}
    if not denied:
        return decoded
    shaken: set[int] = set()
    for node in decoded.nodes:  # parents come first
        if node.id in denied or node.parent in shaken:
            shaken.add(node.id)
    events = [
        replace(event, confidence=event.confidence * CLAIM_DENIED)
        if event.act == "play" and event.node in shaken and event.confidence < 1.0
        else event
        for event in decoded.events
    ]
    return replace(decoded, events=tuple(events))
