"""Slips of musical time, in words: tempos, meters, forms, echoes and places in a song."""

from __future__ import annotations

from setwright.scenes.explained import Explained, slip

EXPLAINED: tuple[Explained, ...] = (
    slip(
        "not-a-duration",
        brief="Something that is no length of time.",
        finds="Something else stands where the length of a song or a set belongs.",
        hurts="When the next scene comes, and whether the set fits, cannot be computed.",
        do="write for example 45 min, 3:10 or 1 min 5 s",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                lasts: three minutes
        """,
    ),
    slip(
        "tempo-without-beat",
        brief="A tempo that does not say which note it counts.",
        finds="A tempo is a bare number, or does not name the note that it counts.",
        hurts="A jig at 112 counts dotted quarters; read as quarters every echo would be wrong.",
        do="write quarter = 120, or dotted quarter = 112 for a jig",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                tempo: 50
        """,
    ),
    slip(
        "tempo-out-of-range",
        brief="A tempo that nobody plays.",
        finds="A tempo is slower than 10 or faster than 500 beats a minute.",
        hurts="A slip of the finger there would put every echo of the song wrong.",
        do="write 10 to 500 beats a minute",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                tempo: quarter = 1200
        """,
    ),
    slip(
        "not-a-note-value",
        brief="Something that is no note value.",
        finds="Something else stands where a note value belongs.",
        hurts="How long a beat is cannot be known.",
        do="write whole, half, quarter, eighth or sixteenth, with dotted or triplet before it",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                tempo: crotch = 50
        """,
    ),
    slip(
        "not-an-echo-time",
        brief="An echo that is neither a note value nor a time.",
        finds="An echo is neither a note value that follows the tempo nor a time in ms.",
        hurts="The repeats would keep the time of another song.",
        do="write for example dotted eighth, quarter or 350 ms",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                echo: slow
        """,
    ),
    slip(
        "not-a-meter",
        brief="Something that is no meter.",
        finds="A time signature is not two numbers with a stroke between, the second a power of "
        "two.",
        hurts="How long a bar is cannot be computed.",
        do="write for example 6/8 or 4/4",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                meter: 2/3
        """,
    ),
    slip(
        "not-a-form",
        brief="Something that is no form.",
        finds="A form is not a row of letters, one a part, with the number of rounds.",
        hurts="When each part comes cannot be computed.",
        do="write for example AABB, 3 rounds",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                form: verse and chorus
        """,
    ),
    slip(
        "not-a-place",
        brief="Something that is no place in a song.",
        finds="A moment is neither a round with its part, nor a bar, nor a time.",
        hurts="When the scene is to be pressed cannot be known.",
        do="write for example round 2 A, round 2 A2 (its second A), bar 17 or 1:05",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                order:
                  - Bare: second verse
        """,
    ),
)
