"""Words that have to agree with others in a sentence: a or an, one or many."""

from __future__ import annotations

from collections.abc import Sequence

_SPOKEN_WITH_A_CONSONANT = ("unit", "use", "one", "eu")
_SPOKEN_WITH_A_VOWEL = ("hour", "8", "11/", "18")


def with_article(noun: str) -> str:
    """Return ``noun`` with the article that it is spoken with: ``an eighth``, ``a unit``."""
    word = noun.lower()
    vowel = word.startswith(("a", "e", "i", "o", "u", *_SPOKEN_WITH_A_VOWEL))
    return f"{'an' if vowel and not word.startswith(_SPOKEN_WITH_A_CONSONANT) else 'a'} {noun}"


def number_of(number: int, what: str, many: str = "") -> str:
    """Return how many there are: ``1 bank``, ``2 banks``, ``10,000 switches``.

    ``many`` is for words that do not simply take an s.
    """
    return f"{number:,} {what if number == 1 else many or f'{what}s'}"


def joined(words: Sequence[str]) -> str:
    """Return words as a sentence has them: one, two and three."""
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))
