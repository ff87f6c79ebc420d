"""Names of people, compared so that one person written twice is noticed."""

import re
import unicodedata

# Letters that carry no separable mark, so that taking marks away leaves them as they are.
PLAIN = str.maketrans({"ł": "l", "ø": "o", "đ": "d", "ð": "d", "ı": "i", "æ": "ae", "œ": "oe", "þ": "th"})
JOINERS = re.compile(r"[\s\-‐‑‒–—'’ʼ`´.,]+")
# Below this, one letter makes another name.
SHORTEST_FOR_ONE_OFF = 5


def name_key(name: str) -> str:
    """The name without accents, case, unseen signs and spare spaces; letters of every script stay.

    Vowel and voicing signs that make another letter (as in Devanagari or kana) stay too. Giving it its own answer
    changes nothing.
    """
    folded = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", name).casefold())
    kept = "".join(sign for sign in folded if not _is_dropped(sign)).translate(PLAIN)
    return " ".join(unicodedata.normalize("NFC", kept).split())


def alike(one: str, other: str) -> bool:
    """Whether two names may be one person's: the same key, the same words in another order, or one letter off."""
    key, other_key = name_key(one), name_key(other)
    if not key or not other_key:
        return False
    words, other_words = _words(key), _words(other_key)
    if key == other_key or (words and words == other_words):
        return True
    return min(len(key), len(other_key)) >= SHORTEST_FOR_ONE_OFF and _one_off(key, other_key)


def _words(key: str) -> list[str]:
    return sorted(word for word in JOINERS.split(key) if word)


def _is_dropped(sign: str) -> bool:
    """Accents and points (by combining class), and signs that are not seen; not the marks that make a letter."""
    mark = unicodedata.combining(sign)
    return mark == 1 or mark >= 10 or unicodedata.category(sign) in ("Cf", "Cs")


def _one_off(one: str, other: str) -> bool:
    """Whether one letter put in, taken out or changed, or two neighbours swapped, turns one into the other."""
    if len(one) > len(other):
        one, other = other, one
    if len(other) - len(one) > 1:
        return False
    start = next((at for at, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), len(one))
    rest, other_rest = one[start:], other[start:]
    if len(one) < len(other):
        return rest == other_rest[1:]
    is_swapped = rest[:2] == other_rest[:2][::-1] and rest[2:] == other_rest[2:]
    return rest[1:] == other_rest[1:] or is_swapped
