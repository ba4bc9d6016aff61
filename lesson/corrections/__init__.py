"""What the teacher says of the words: corrections, as a file beside the talk and as facts for the decoder.

A correction never edits the tree. It says what words mean; the study is made again from the talk and all corrections.
"""

from __future__ import annotations

from lesson.corrections.apply import Applied, apply, settled, unmet, unmet_flaws
from lesson.corrections.file import (
    corrections_path,
    corrections_schema_text,
    corrections_text,
    parse_corrections,
    read_corrections,
)
from lesson.corrections.record import Correction, Corrections, Kind, correction_at, described, is_move

__all__ = [
    "Applied",
    "Correction",
    "Corrections",
    "Kind",
    "apply",
    "correction_at",
    "corrections_path",
    "corrections_schema_text",
    "corrections_text",
    "described",
    "is_move",
    "parse_corrections",
    "read_corrections",
    "settled",
    "unmet",
    "unmet_flaws",
]
