"""Slips of whole books, in words: what is empty, what leads nowhere, and which file is where."""

from __future__ import annotations

from setwright.scenes.explained import Explained, slip
from setwright.scenes.finding import Severity

EXPLAINED: tuple[Explained, ...] = (
    slip(
        "nothing-to-play",
        brief="A night that plays nothing.",
        finds="No song stands in any set and none is kept for requests, or the night names no "
        "file of songs, or its files hold none.",
        hurts="There is nothing to check or build, and silence would look like success.",
        do="write the titles of the songs under play:, or the songs in their file",
        example="""\
            # all of night.yaml
            night: Shed dance
            rig: rig.yaml
            songs: songs.yaml
            sets: []
        """,
    ),
    slip(
        "set-empty",
        severity=Severity.WARNING,
        brief="A set without songs.",
        finds="A set has no songs under play:, and other sets have.",
        hurts="The cue sheet would have a set in which nothing is played.",
        do="write the titles of its songs, or delete the set",
        example="""\
            # at the end of night.yaml
              - {name: After soup, play: []}
        """,
    ),
    slip(
        "file-without-songs",
        severity=Severity.WARNING,
        brief="A file of songs that lists none.",
        finds="A file of songs says songs: [], and the night gets its songs from other files.",
        hurts="If songs were meant to be in it, they are missing.",
        do="write them in it, or delete the line",
        example="""\
            # in songs.yaml
            include: more.yaml
            # all of more.yaml
            songs: []
        """,
    ),
    slip(
        "stored-newer",
        brief="A list of what a switcher holds that a later Setwright wrote.",
        finds="The file beside the switcher's own says a format that this Setwright does not know.",
        hurts="It may say something that would be misread, and then the plan would be wrong.",
        do="read it with the Setwright that wrote it, or a later one",
        example="""\
            # all of board.stored.yaml
            stored: board
            format: 2
        """,
    ),
    slip(
        "stored-of-another",
        brief="A list of what another switcher holds.",
        finds="The file beside the switcher's own names a switcher that is called otherwise.",
        hurts="What is typed into one says nothing of the other, so the plan would leave out what "
        "has to be typed.",
        do="write the switcher's name, if it is the same one; or move the file away",
        example="""\
            # all of board.stored.yaml
            stored: plank
        """,
    ),
    slip(
        "stored-nowhere",
        brief="A stored preset at a place that the switcher does not have, or there twice.",
        finds="A key under presets: is no bank and switch as the switcher shows them, or it is one "
        "that stands there already, in other capitals perhaps.",
        hurts="Nobody can tell which preset is meant, so it might be typed over, or never.",
        do="write the bank, a slash and the switch: 1/A",
        example="""\
            # all of board.stored.yaml
            stored: board
            presets:
              1/11: {name: Start, loops: [1]}
        """,
    ),
    slip(
        "rig-without-units",
        brief="A rig without units.",
        finds="A rig has nothing under units:, and neither have the files that it includes.",
        hurts="It can make none of the effects that songs ask for.",
        do="write the boxes under units:, and under effects: what each of them is for",
        example="""\
            # all of rig.yaml
            rig: Shed
            switcher: board.yaml
            units: {}
        """,
    ),
    slip(
        "song-without-scenes",
        severity=Severity.WARNING,
        brief="A song in which there is nothing to press.",
        finds="A song of tonight has no scenes of its own, and the rig has no general scenes; "
        "or the night leaves out all that it has.",
        hurts="The sound of the song before stays on, whatever it is.",
        do="write general: in the rig, with a scene or more; or give the song scenes of its own",
        example="""\
            # at the end of night.yaml
            if asked: [Planxty Irwin]
            # at the end of songs.yaml
              - title: Planxty Irwin
        """,
    ),
    slip(
        "wrong-kind-of-file",
        brief="A file that is named where another kind belongs.",
        finds="The keys of a file tell that it is a switcher, say, and it is named as the rig. "
        "Nothing else is said of it.",
        hurts="What belongs there is missing.",
        do="name the right file: songs and rig in the night, the switcher in the rig",
        example="""\
            # in night.yaml
            rig: board.yaml
        """,
    ),
    slip(
        "include-too-deep",
        brief="Files that include one another, more than 32 in a row.",
        finds="A file is included by a file that is included, and so on, 32 files deep.",
        hurts="Nobody could say any more which of them wins.",
        do="let the first file include all the others itself",
        example="""\
            # in rig.yaml
            include: gear1.yaml
        """,
    ),
    slip(
        "title-of-several",
        brief="A title that several songs have.",
        finds="The night names a song by a title that several songs have, each with an id.",
        hurts="Which of them is meant cannot be known.",
        do="write the id of the one that is meant",
        example="""\
            # in songs.yaml
            songs:
              - title: The Rakes Of Mallow
                key: G major
              - title: Blind Mary
                id: air
              - {title: Blind Mary, id: march}
        """,
    ),
    slip(
        "instead-of-in-circle",
        brief="Effects that only stand in for one another.",
        finds="What stands under instead of: leads from one effect to the next and back to the "
        "first, and the rig makes none of them; or an effect stands in for itself.",
        hurts="None of them can ever be played.",
        do="let one of them lead to an effect that the rig makes, or to nothing",
        example="""\
            # in rig.yaml
            instead of:
              fog: mist
              mist: fog
        """,
    ),
    slip(
        "stand-in-for-nothing",
        severity=Severity.WARNING,
        brief="A misspelt effect on the left of instead of:.",
        finds="No song asks for an effect of that name and the rig makes none, but one has nearly "
        "the same name. Names that are like no other are left alone: a rig serves other books too.",
        hurts="When the box is missing, nothing stands in for it.",
        do="write the effect as songs and rig call it",
        example="""\
            # in rig.yaml
            instead of:
              tremlo: nothing
        """,
    ),
)
