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
        finds="A form is neither a row of letters, one a part, nor the names of parts, with the "
        "number of rounds behind.",
        hurts="When each part comes cannot be computed.",
        do="write for example AABB, 3 rounds; or intro verse chorus verse chorus 2×",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                form: AA|BB
        """,
    ),
    slip(
        "no-first-tempo",
        brief="A tempo from a place on, and none at the beginning.",
        finds="The first tempo of a song says from where on it holds, so that nothing says how the "
        "song begins.",
        hurts="Until then no time is known, and no echo.",
        do="write the tempo at the beginning first: quarter = 120, quarter = 96 from bridge",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                tempo: quarter = 50 from round 2 A
        """,
    ),
    slip(
        "tempo-without-place",
        brief="A second tempo that does not say from where on.",
        finds="A song has several tempos, and one behind the first does not say from which place "
        "on.",
        hurts="When it begins cannot be known.",
        do="write the place behind it: quarter = 96 from bridge",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                tempo: quarter = 50, quarter = 60
        """,
    ),
    slip(
        "vamp-without-cue",
        brief="A part that ends at some time, and nobody says when.",
        finds="A part is as long as until something happens, and what that is is not said.",
        hurts="Nobody knows what to wait for.",
        do="write what to wait for: until the singer nods",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                bars: {A: until, B: 8}
        """,
    ),
    slip(
        "not-a-place",
        brief="Something that is no place in a song.",
        finds="A moment is neither a part, nor a round with its part, nor a bar, nor a time.",
        hurts="When the scene is to be pressed cannot be known.",
        do="write for example round 2 A, round 2 A2 (its second A), chorus 2, verse 2 bar 5, bar "
        "17 or 1:05",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                order:
                  - Bare: round two
        """,
    ),
)
