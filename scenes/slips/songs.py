"""Slips of songs, in words: names that lead nowhere, and scenes that do not add up."""

from __future__ import annotations

from setwright.scenes.explained import Explained, slip
from setwright.scenes.finding import Severity

EXPLAINED: tuple[Explained, ...] = (
    slip(
        "unknown-song",
        brief="A song to be played that is not in the book.",
        finds="The night names a song that the book does not have, neither by id nor by title.",
        hurts="It cannot be compiled, and its place in the set would be empty.",
        do="write its title as the songs' file has it, or write the song",
        example="""\
            # in night.yaml
            if asked: [Blinde Mary]
        """,
    ),
    slip(
        "song-twice",
        brief="Two songs that are known by one name.",
        finds="Two songs have the same id, or the same title and no id.",
        hurts="Which of the two a set means cannot be known.",
        do="give one of them an id: of its own, or delete it",
        example="""\
            # in songs.yaml
            songs:
              - title: The Rakes Of Mallow
                key: G
              - title: Blind Mary  # an air
                key: G
              - title: Blind Mary  # a march
                key: D
        """,
    ),
    slip(
        "unknown-sound",
        brief="A sound that nobody has written.",
        finds="A scene names a sound that does not stand under sounds:.",
        hurts="What the scene should sound like is not said.",
        do="write it under sounds:, or name one that stands there",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                scenes:
                  Bare: plane
        """,
    ),
    slip(
        "unknown-scene",
        brief="A scene that the song does not have.",
        finds="An order, a like: or a leave out: names a scene that the song does not have.",
        hurts="There is nothing to press at that moment.",
        do="write its name as it stands under scenes:, or write the scene",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                order:
                  - Raise: round 3 A
        """,
    ),
    slip(
        "two-starts",
        brief="A scene that begins from two things at once.",
        finds="A scene says two of sound:, effects: and like:.",
        hurts="From which of the two it begins cannot be known.",
        do="keep one; what is to sound besides belongs under add:",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                scenes:
                  Rise: {effects: [tremolo], like: Bare}
        """,
    ),
    slip(
        "scene-without-sound",
        brief="A scene that does not say how it sounds.",
        finds="A scene names neither a sound nor effects nor another scene.",
        hurts="It could mean no effect at all, or be forgotten.",
        do="add sound:, effects: or like:; for no effect at all write effects: []",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                scenes:
                  Rise: {echo: quarter}
        """,
    ),
    slip(
        "like-in-circle",
        brief="Scenes that begin from one another.",
        finds="A scene is like another, which is like the first, perhaps by way of more.",
        hurts="None of them says what any of them sounds like.",
        do="let one of them name a sound",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                scenes:
                  Bare: {like: Rise}
                  Rise: {like: Bare, add: tremolo}
        """,
    ),
    slip(
        "drops-nothing",
        severity=Severity.WARNING,
        brief="A scene that drops what is not in it.",
        finds="A scene drops an effect that neither its sound nor its other scene has.",
        hurts="Perhaps another one was meant, and that still sounds.",
        do="name an effect that is in it, or delete it",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                scenes:
                  Rise: {effects: [compression, long echo], drop: tremolo}
        """,
    ),
    slip(
        "adds-twice",
        severity=Severity.WARNING,
        brief="A scene that adds what is in it already.",
        finds="A scene adds an effect that its sound or its other scene has.",
        hurts="Perhaps another one was meant, and that is missing.",
        do="delete it, or name another",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                scenes:
                  Rise: {effects: [compression, tremolo], add: tremolo}
        """,
    ),
    slip(
        "no-such-part",
        brief="A part that the song's form does not have.",
        finds="A place names a part that the form does not have, or not that often.",
        hurts="There is no such moment, so nobody knows when to press.",
        do="write a part of the form, or mend the form",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                order:
                  - Bare: round 3 C
        """,
    ),
    slip(
        "beyond-part",
        brief="A bar that a part does not have.",
        finds="A place is a bar within a part, and the part is shorter.",
        hurts="There is no such moment, so nobody knows when to press.",
        do="write a bar that the part has, or say under bars: how long it is",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                order:
                  - Bare: round 2 A bar 9
        """,
    ),
    slip(
        "pickup-without-meter",
        brief="A pickup in a song without a meter.",
        finds="A song says which notes come before its first full bar, and not what a bar is.",
        hurts="When bar 1 begins cannot be known.",
        do="add meter:, for example meter: 4/4",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                form: AB, 4 rounds
              - title: Planxty Shed
                pickup: quarter
                scenes:
                  Low: [compression]
        """,
    ),
    slip(
        "pickup-too-long",
        brief="A pickup of a whole bar or more.",
        finds="The notes before the first full bar fill a bar.",
        hurts="Every bar would be counted wrongly.",
        do="write the notes that stand before the first full bar; whole bars are a part of the "
        "form: intro",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                pickup: half
        """,
    ),
    slip(
        "place-without-pickup",
        brief="A moment at the pickup of a song that has none.",
        finds="A place is the pickup, and the song says none.",
        hurts="When the scene is to be pressed cannot be known.",
        do="add pickup:, for example pickup: quarter; or write bar 1",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                order:
                  - Bare: pickup
        """,
    ),
    slip(
        "place-without-form",
        brief="Rounds and parts in a song that has no form.",
        finds="A place is said by round and part, and the song does not say its form.",
        hurts="When that is, and how long a part lasts, cannot be known.",
        do="add form:, for example form: AABB, 3 rounds; or say bars or times",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                form: AB, 4 rounds
              - title: Planxty Shed
                scenes:
                  Low: [compression]
                order:
                  - Low: round 2 A
        """,
    ),
)
