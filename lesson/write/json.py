"""Lesson -> the lesson file, and the JSON Schema it obeys."""

from __future__ import annotations

import json

from lesson.model import Lesson


def json_text(lesson: Lesson) -> str:
    """The whole lesson; `Lesson.model_validate_json` reads it back. Same lesson, same text."""
    return lesson.model_dump_json(indent=1) + "\n"


def schema_text() -> str:
    """The JSON Schema (2020-12) of the lesson file."""
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | Lesson.model_json_schema()
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
