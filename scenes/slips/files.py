"""Slips of files, in words: what is not there, cannot be read, or does not fit together."""

from __future__ import annotations

from setwright.scenes.explained import Explained, slip

EXPLAINED: tuple[Explained, ...] = (
    slip(
        "file-missing",
        brief="A file that is not there.",
        finds="A file is named that is not there, or that can have no such name.",
        hurts="What it should hold is missing, so nothing can be made of the night.",
        do="check the name, and whether the file lies in the folder of the night",
        example="""\
            # in night.yaml
            rig: shed-rig.yaml
        """,
    ),
    slip(
        "file-outside",
        brief="A file outside the folder of the night.",
        finds="A file is named that lies outside the folder of the night, also by way of a link.",
        hurts="A book that reads from anywhere breaks when it is copied to another computer, and "
        "could read what is none of its business.",
        do="copy the file into the folder of the night",
        example="""\
            # in night.yaml
            songs: ../songs.yaml
        """,
    ),
    slip(
        "file-unreadable",
        brief="A file that cannot be opened.",
        finds="What is named is a folder or another thing that is no ordinary file, or the file "
        "may not be read.",
        hurts="What it should hold is missing, so nothing can be made of the night.",
        do="name a text file, or give yourself the right to read it",
        example="""\
            # in night.yaml
            songs: .
        """,
    ),
    slip(
        "file-too-large",
        brief="A file that is too large for a book.",
        finds="A file is larger than 8 MB; a book of two thousand songs takes about one.",
        hurts="It is something else, or a program wrote it; reading it would only take time.",
        do="name the right file, or split the book with include:",
        example="""\
            # in night.yaml
            songs: recording.wav
        """,
    ),
    slip(
        "file-empty",
        brief="A file that holds nothing.",
        finds="A file is empty, or holds nothing but comments.",
        hurts="There is no rig, no song or no night in it.",
        do="write it; ‘setwright new FOLDER’ makes files to begin with",
        example="""\
            # all of songs.yaml
            # to be written
        """,
    ),
    slip(
        "wrong-encoding",
        brief="Text that is not UTF-8.",
        finds="A file is saved as UTF-16, or holds a byte that is no UTF-8 text.",
        hurts="Nobody can say which letter was meant there.",
        do="save the file again as UTF-8",
        example="""\
            # in songs.yaml
            songs:
              - title: Planxty Caf\N{REPLACEMENT CHARACTER}
        """,
    ),
    slip(
        "not-text",
        brief="A file that is no text.",
        finds="A file holds zero bytes, as pictures, recordings and programs do.",
        hurts="It is no book, whatever its name says.",
        do="name a text file",
        example="""\
            # in night.yaml
            songs: photo.yaml
        """,
    ),
    slip(
        "control-character",
        brief="An invisible character in the text.",
        finds="A character that nobody can see stands in the text: a control character, or a line "
        "break of another kind.",
        hurts="Two names that look the same would differ, and a terminal could be led astray.",
        do="delete it; typing the line anew does",
        example="""\
            # in rig.yaml
            rig: She\N{SYMBOL FOR BELL}d
        """,
    ),
    slip(
        "include-cycle",
        brief="Files that include one another in a circle.",
        finds="A file includes itself, or a file that leads back to it.",
        hurts="There is no end to what would have to be read.",
        do="delete one of the includes",
        example="""\
            # in rig.yaml
            include: rig.yaml
        """,
    ),
    slip(
        "name-twice",
        brief="One name in two files that are read as one.",
        finds="The same sound stands in two files of songs.",
        hurts="Which of the two would count hangs on the order of the files.",
        do="rename one of them, or delete it",
        example="""\
            # in songs.yaml
            include: more.yaml
            sounds:
              plain: [compression]
            # all of more.yaml
            sounds:
              plain: [tremolo]
        """,
    ),
)
