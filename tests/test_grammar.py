"""The grammar files test themselves: every rule matches what it says and stays off what it must not."""

from __future__ import annotations

from pathlib import Path

import pytest

from lesson.check.hearing import heard, patterns, whole_words
from lesson.errors import DataError
from lesson.hear.grammar import Rule, load_grammar, meanings, read_rules

ROOT = Path(__file__).resolve().parents[1]

# a file of the grammars without rules (opening names) has a form of its own and its own tests
PARTS = sorted(p.stem for p in (ROOT / "grammars").glob("*.toml") if "[[rule]]" in p.read_text(encoding="utf-8"))
RULES = [pytest.param(part, rule, id=f"{part}:{rule.means}") for part in PARTS for rule in load_grammar(part).rules]


def test_the_grammars_are_all_here() -> None:
    assert {"en", "en-checks", "en-claims", "en-positions", "en-verdicts"} <= set(PARTS)


@pytest.mark.parametrize(("part", "rule"), RULES)
def test_a_rule_matches_what_it_says_and_nothing_it_must_not(part: str, rule: Rule) -> None:
    for text in rule.says:
        assert rule.means in meanings(text, part), f"{rule.means} must match {text!r}"
    for text in rule.never:
        assert rule.means not in meanings(text, part), f"{rule.means} must not match {text!r}"


@pytest.mark.parametrize("rule", [pytest.param(rule, id=rule.means) for rule in patterns()])
def test_a_pattern_matches_what_it_says_by_each_of_its_rows(rule: Rule) -> None:
    for text in rule.says:
        assert heard(rule.means).search(text), f"{rule.means} must match {text!r}"
    for text in rule.never:
        assert not heard(rule.means).search(text), f"{rule.means} must not match {text!r}"
    for row in rule.match:
        assert any(whole_words(row).search(text) for text in rule.says), f"no example needs {row!r}"


def test_all_broken_rules_of_a_file_are_reported_at_once(tmp_path: Path) -> None:
    file = tmp_path / "broken.toml"
    file.write_text('[[rule]]\nmeans = "a"\nwhy = "short"\n[[rule]]\nmeans = "b"\nmatch = ["x"]\n')
    with pytest.raises(DataError) as caught:
        read_rules(file)
    assert "rule 1 (a)" in str(caught.value)
    assert "rule 2 (b)" in str(caught.value)
