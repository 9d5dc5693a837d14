"""What the musician writes, by examples: one for every field, and what may be said in short.

Texts are as they stand in a file, at the depth of the record that they belong to. The tests read
every one of them; the reference of the language shows them.
"""

from setwright.scenes.examples import boxes, evening, music, rigs
from setwright.scenes.examples.said import Examples, Short


def every_example() -> Examples:
    """Return the examples of all records."""
    return {**music.FIELDS, **evening.FIELDS, **rigs.FIELDS, **boxes.FIELDS}


def every_short() -> dict[str, tuple[Short, ...]]:
    """Return what may be said in short, by record class."""
    return {**music.SHORT, **evening.SHORT, **rigs.SHORT, **boxes.SHORT}
