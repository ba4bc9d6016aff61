"""How easily one speech sound is taken for another.

Consonants follow the five features of G. A. Miller and P. E. Nicely, "An analysis of perceptual confusions among some
English consonants", JASA 27 (1955) 338-352: voicing, nasality, affrication (friction), duration, place. Their finding
sets the order of the weights: in noise voicing and nasality survive and place is lost first, so place is cheap.
The sounds they did not test (l r w y h ch j ng) are placed by the same features. Vowels lie as far apart as
their first two formants, mean of the men in G. E. Peterson and H. L. Barney, JASA 24 (1952) 175-184, on the Bark scale
of H. Traunmüller, JASA 88 (1990) 97-100; a diphthong is its two ends. The feature table and the formants are written
from memory. The weights and the costs of a lost sound are ours, set by hand.
"""

from __future__ import annotations

from functools import lru_cache

# voiced, nasal, friction, long, place (0 lips, 1 teeth and gum, 2 palate and back)
_CONSONANTS: dict[str, tuple[int, int, int, int, int]] = {
    "P": (0, 0, 0, 0, 0),
    "T": (0, 0, 0, 0, 1),
    "K": (0, 0, 0, 0, 2),
    "F": (0, 0, 1, 0, 0),
    "TH": (0, 0, 1, 0, 1),
    "S": (0, 0, 1, 1, 1),
    "SH": (0, 0, 1, 1, 2),
    "B": (1, 0, 0, 0, 0),
    "D": (1, 0, 0, 0, 1),
    "G": (1, 0, 0, 0, 2),
    "V": (1, 0, 1, 0, 0),
    "DH": (1, 0, 1, 0, 1),
    "Z": (1, 0, 1, 1, 1),
    "ZH": (1, 0, 1, 1, 2),
    "M": (1, 1, 0, 0, 0),
    "N": (1, 1, 0, 0, 1),
    "NG": (1, 1, 0, 0, 2),
    "CH": (0, 0, 1, 0, 2),
    "JH": (1, 0, 1, 0, 2),
}
_VOICE, _NASAL, _FRICTION, _LENGTH, _PLACE = 0.35, 0.6, 0.35, 0.15, 0.2
_LIQUIDS = frozenset(("L", "R", "W", "Y", "HH"))

_FORMANTS_HZ: dict[str, tuple[int, int]] = {
    "IY": (270, 2290),
    "IH": (390, 1990),
    "EH": (530, 1840),
    "AE": (660, 1720),
    "AH": (640, 1190),
    "AA": (730, 1090),
    "AO": (570, 840),
    "UH": (440, 1020),
    "UW": (300, 870),
    "ER": (490, 1350),
}
_GLIDES = {"EY": ("EH", "IY"), "AY": ("AA", "IH"), "OY": ("AO", "IH"), "OW": ("AO", "UH"), "AW": ("AA", "UH")}
_VOWELS = frozenset((*_FORMANTS_HZ, *_GLIDES))
_COST_PER_BARK, _VOWEL_CAP = 0.13, 0.8

# Pairs across the classes that flow into one another.
_NEAR = frozenset(map(frozenset, (("W", "V"), ("W", "UW"), ("Y", "IY"), ("R", "ER"), ("L", "AO"), ("W", "B"))))
_NEAR_COST, _LIQUID_COST, _CONSONANT_CAP, _UNLIKE = 0.35, 0.6, 1.0, 1.2

# A lost or added sound. Unstressed vowels, glides, h and r after a vowel come and go; t and d at word ends too.
_LOST = {"HH": 0.4, "W": 0.4, "Y": 0.35, "R": 0.4, "L": 0.6, "AH": 0.4, "IH": 0.55, "ER": 0.6, "T": 0.6, "D": 0.6}
_LOST_CONSONANT, _LOST_VOWEL = 0.75, 0.8

PHONEMES = frozenset((*_CONSONANTS, *_LIQUIDS, *_VOWELS))
_NUMBER = {p: i for i, p in enumerate(sorted(PHONEMES))}


def _bark(hertz: float) -> float:
    return 26.81 * hertz / (1960 + hertz) - 0.53


def _gap_bark(a: str, b: str) -> float:
    (a1, a2), (b1, b2) = _FORMANTS_HZ[a], _FORMANTS_HZ[b]
    return float(((_bark(a1) - _bark(b1)) ** 2 + (_bark(a2) - _bark(b2)) ** 2) ** 0.5)


def _vowels(a: str, b: str) -> float:
    a_from, a_to = _GLIDES.get(a, (a, a))
    b_from, b_to = _GLIDES.get(b, (b, b))
    return min(_VOWEL_CAP, _COST_PER_BARK * (_gap_bark(a_from, b_from) + _gap_bark(a_to, b_to)) / 2)


def _consonants(a: str, b: str) -> float:
    weights = (_VOICE, _NASAL, _FRICTION, _LENGTH, _PLACE)
    pairs = zip(weights, _CONSONANTS[a], _CONSONANTS[b], strict=True)
    return min(_CONSONANT_CAP, sum(w for w, x, y in pairs if x != y))


def _substitution(a: str, b: str) -> float:
    if a == b:
        return 0.0
    if frozenset((a, b)) in _NEAR:
        return _NEAR_COST
    if a in _VOWELS or b in _VOWELS:
        return _vowels(a, b) if a in _VOWELS and b in _VOWELS else _UNLIKE
    if a in _LIQUIDS or b in _LIQUIDS:
        return _LIQUID_COST if a in _LIQUIDS and b in _LIQUIDS else _VOWEL_CAP
    return _consonants(a, b)


_SUBSTITUTE = [[_substitution(a, b) for b in _NUMBER] for a in _NUMBER]
_DROP = [_LOST.get(a, _LOST_VOWEL if a in _VOWELS else _LOST_CONSONANT) for a in _NUMBER]


@lru_cache(maxsize=200_000)
def _encode(sound: str) -> tuple[int, ...]:
    return tuple(_NUMBER[p] for p in sound.split())


@lru_cache(maxsize=400_000)
def sound_distance(a: str, b: str) -> float:
    """Weighted edit distance of two pronunciations, in sounds: 0 the same, about 1 one sound quite different.

    Symmetric. A lost or added sound costs .35 to .8, a sound taken for another 0 to 1.2.
    Raises: KeyError if a string holds something else than phonemes.
    """
    if a == b:
        return 0.0
    second = _encode(b)
    row = [0.0]
    for y in second:
        row.append(row[-1] + _DROP[y])
    for x in _encode(a):
        drop, costs = _DROP[x], _SUBSTITUTE[x]
        left = row[0] + drop
        out = [left]
        for j, y in enumerate(second, 1):
            best = row[j - 1] + costs[y]
            if (cost := row[j] + drop) < best:
                best = cost
            if (cost := left + _DROP[y]) < best:
                best = cost
            out.append(best)
            left = best
        row = out
    return row[-1]


@lru_cache(maxsize=50_000)
def sound_weight(sound: str) -> float:
    """What losing the whole pronunciation would cost, in the unit of `sound_distance`: the yardstick for one."""
    return sum(_DROP[p] for p in _encode(sound))


@lru_cache(maxsize=200_000)
def outline(sound: str) -> str:
    """One character a sound, alike for sounds of one family: vowels, and consonants made at one place.

    What a quick search compares before `sound_distance` measures.
    """
    return "".join(_FAMILY[p] for p in sound.split())


@lru_cache(maxsize=200_000)
def skeleton(sound: str) -> str:
    """The outline's consonants that no speaker swallows: without vowels, glides, h and r."""
    return "".join(_FAMILY[p] for p in sound.split() if p not in _SWALLOWED)


_SWALLOWED = _VOWELS | {"R", "W", "Y", "HH"}
_FAMILIES = (("P", "P B F V M W"), ("T", "T D TH DH N"), ("S", "S Z SH ZH CH JH"), ("K", "K G NG HH"))
_FAMILY = {p: family for family, members in _FAMILIES for p in members.split()}
_FAMILY |= dict.fromkeys(_VOWELS, "V") | {p: p for p in ("L", "R", "Y")}
