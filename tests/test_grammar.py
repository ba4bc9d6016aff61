"""The grammar files test themselves: every rule matches what it says and stays off what it must not."""

from __future__ import annotations

from pathlib import Path

import pytest

from lesson.errors import DataError
from lesson.hear.grammar import Rule, load_grammar, meanings, read_rules

RULES = load_grammar("en").rules


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.means)
def test_a_rule_matches_what_it_says_and_nothing_it_must_not(rule: Rule) -> None:
    for text in rule.says:
        assert rule.means in meanings(text), f"{rule.means} must match {text!r}"
    for text in rule.never:
        assert rule.means not in meanings(text), f"{rule.means} must not match {text!r}"


def test_all_broken_rules_of_a_file_are_reported_at_once(tmp_path: Path) -> None:
    file = tmp_path / "broken.toml"
    file.write_text('[[rule]]\nmeans = "a"\nwhy = "short"\n[[rule]]\nmeans = "b"\nmatch = ["x"]\n')
    with pytest.raises(DataError) as caught:
        read_rules(file)
    assert "rule 1 (a)" in str(caught.value)
    assert "rule 2 (b)" in str(caught.value)


@pytest.mark.parametrize("rule", load_grammar("en-checks").rules, ids=lambda rule: rule.means)
def test_a_rule_of_the_checks_matches_what_it_says(rule: Rule) -> None:
    for text in rule.says:
        assert rule.means in meanings(text, "en-checks"), f"{rule.means} must match {text!r}"
    for text in rule.never:
        assert rule.means not in meanings(text, "en-checks"), f"{rule.means} must not match {text!r}"
