"""The lesson file reads back as the same lesson and obeys its published schema."""

from __future__ import annotations

import json

from hypothesis import HealthCheck, given, settings

from lesson.model import Lesson
from lesson.write import json_text, schema_text
from tests.decoded import lessons

quick = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))


@quick
@given(lessons())
def test_round_trip(lesson: Lesson) -> None:
    text = json_text(lesson)
    assert Lesson.model_validate_json(text) == lesson
    assert json_text(Lesson.model_validate_json(text)) == text
    text.encode("utf-8")
    assert text.endswith("}\n")


@quick
@given(lessons())
def test_the_standard_library_reads_the_same_words(lesson: Lesson) -> None:
    loaded = json.loads(json_text(lesson))
    assert [word["text"] for word in loaded["words"]] == [word.text for word in lesson.words]


def test_schema_describes_every_field_of_a_lesson() -> None:
    schema = json.loads(schema_text())
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert set(schema["properties"]) == set(Lesson.model_fields)
    assert set(schema["$defs"]) >= {"LessonMove", "LessonWord", "Unresolved", "Comment", "Mention", "Finding"}
    assert all(definition["additionalProperties"] is False for definition in schema["$defs"].values())
