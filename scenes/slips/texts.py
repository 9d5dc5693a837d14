"""Slips of YAML, in words: what keeps a text from being read at all, or reads otherwise."""

from __future__ import annotations

from setwright.scenes.explained import Explained, slip
from setwright.scenes.finding import Severity

EXPLAINED: tuple[Explained, ...] = (
    slip(
        "yaml-syntax",
        brief="A line that does not fit, or a bracket or quotation mark left open.",
        finds="The text is not YAML here: an indentation that fits nowhere, a colon that is "
        "missing or too many, a bracket, brace or quotation mark that is never closed.",
        hurts="What the rest of the file means cannot be known.",
        do="indent a line exactly as its neighbours, close what you open, and put quotes round "
        "text with a colon or comma in it",
        example="""\
            # in rig.yaml
            effects:
              tremolo: {wobbler: tremolo
        """,
    ),
    slip(
        "tab",
        severity=Severity.ERROR,
        sometimes=(Severity.WARNING,),
        brief="A tab where only spaces may stand.",
        finds="A line is indented with a tab; or, which is a warning, a tab stands between a "
        "name and its value.",
        hurts="Every editor shows a tab at another width, so nobody can see what belongs where; "
        "some programs refuse the file.",
        do="write spaces",
        example="""\
            # in rig.yaml
            units:
              squeezer:
            \tloop: 1
        """,
    ),
    slip(
        "key-twice",
        brief="A name that stands twice in one place.",
        finds="The same name stands twice among its neighbours.",
        hurts="Only one of the two could count, and nobody sees which.",
        do="rename one of them, or delete it",
        example="""\
            # in rig.yaml
            effects:
              long echo: echo
              slapback: echo
              slapback: squeezer
        """,
    ),
    slip(
        "cut-by-comment",
        severity=Severity.WARNING,
        brief="A value that a # cuts short.",
        finds="A value goes on with a #, and after a space that begins a comment.",
        hurts="F #minor becomes F, and a cue loses its end.",
        do="put quotes around the whole value; if it is a comment, put a space after #",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                key: F #minor
        """,
    ),
    slip(
        "key-not-text",
        brief="A list or braces where a name belongs.",
        finds="A list or names with values stand where a name belongs, before a colon.",
        hurts="Nothing can be called that.",
        do="put a name there; text that begins with [ or { needs quotes",
        example="""\
            # in rig.yaml
            effects:
              [long, echo]: echo
        """,
    ),
    slip(
        "second-document",
        brief="A line of dashes that begins a second document.",
        finds="A line of three dashes begins a second document; a file holds one.",
        hurts="What stands below it would not be read.",
        do="put it into a file of its own, or delete the line of dashes",
        example="""\
            # at the end of songs.yaml
            ---
            sounds:
              plain: [compression]
        """,
    ),
    slip(
        "merge-key",
        brief="A merge key (<<), which has no meaning here.",
        finds="A merge key (<<) stands in the file; YAML 1.2 does not have it.",
        hurts="What it would bring along would be missing.",
        do="name a sound once under sounds:, or say like: and the other scene's name",
        example="""\
            # in rig.yaml
            units:
              echo:
                <<: {tails: stay}
        """,
    ),
    slip(
        "yaml-tag",
        brief="A tag (!name), which has no meaning here.",
        finds="A value begins with a tag: an exclamation mark and a name.",
        hurts="A tag says how programs are to read a value; in a book each field knows that.",
        do="delete it; text that begins with ! needs quotes",
        example="""\
            # in night.yaml
            night: !loud Shed dance
        """,
    ),
    slip(
        "alias-unknown",
        brief="A *name for which there is no &name.",
        finds="A value begins with * and is an alias of something that is not marked above it.",
        hurts="It stands for nothing.",
        do="write the value out; text that begins with * needs quotes",
        example="""\
            # in night.yaml
            night: *loud
        """,
    ),
    slip(
        "alias-loop",
        brief="A *name inside the very thing that it stands for.",
        finds="An alias stands inside the very value that it stands for.",
        hurts="There is no end to it.",
        do="write the value out",
        example="""\
            # in rig.yaml
            effects:
              tremolo: &it {wobbler: *it}
        """,
    ),
    slip(
        "nested-too-deep",
        brief="Brackets within brackets without end.",
        finds="More than 32 levels stand inside one another; a book needs seven.",
        hurts="A bracket was never closed, or the file is no book.",
        do="close the brackets, or check the indentation",
        example="""\
            # in rig.yaml
            path: [[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[guitar]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]
        """,
    ),
    slip(
        "too-much-text",
        brief="A file that grows beyond measure once its aliases are followed.",
        finds="With its aliases followed a file holds over a million values.",
        hurts="Reading it would fill the computer's memory.",
        do="write the values out instead of repeating them with *",
        example="""\
            # all of songs.yaml
            a: &a [x, x, x, x, x, x, x, x, x, x]
            b: &b [*a, *a, *a, *a, *a, *a, *a, *a, *a, *a]
            c: &c [*b, *b, *b, *b, *b, *b, *b, *b, *b, *b]
            d: &d [*c, *c, *c, *c, *c, *c, *c, *c, *c, *c]
            e: &e [*d, *d, *d, *d, *d, *d, *d, *d, *d, *d]
            f: &f [*e, *e, *e, *e, *e, *e, *e, *e, *e, *e]
            songs: *f
        """,
    ),
)
