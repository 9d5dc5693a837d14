"""What ‘proven’ says, and what it rests on: the whole of it, for whoever wants to know.

The last lines of a check say it in short (`summary`); this is printed by ‘setwright checks proof’
and stands before the codes on the page of checks.
"""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import fill
from typing import NamedTuple

WIDTH = 96


class Part(NamedTuple):
    """A heading and its sentences."""

    title: str
    sentences: tuple[str, ...]


PARTS = (
    Part(
        "What ‘proven’ says",
        (
            "After a scene is pressed, every box stands as the scene asks for it, whichever scene "
            "was there before: its messages are run through models of the boxes, which begin in a "
            "state that nobody knows and do what the rig declares.",
            "Every message is followed along the MIDI cables, from each box that sends: nobody "
            "acts on what is not meant for it, and nobody misses what is.",
            "With the cables of path:, the guitar reaches an amplifier at every moment of the "
            "night, but where silence is meant: where a song says so, until the end of a silence "
            "that ends within its song, and in a scene pressed as one likes whose own effect "
            "mutes.",
            "Where songs say when scenes are pressed, no box is busy any more with the scene "
            "before, over a segue too.",
        ),
    ),
    Part(
        "What it rests on",
        (
            "The boxes do what the rig's file says of them, and the cables are plugged as path: "
            "and midi: say. Nothing is measured.",
            "The presets hold what the preset sheet says, and nothing else: what a preset sends "
            "when it is left is empty, and what lies on switches that are kept for something else "
            "has no say once a scene is pressed. Presets that are passed on the way to another "
            "bank are this rig's.",
            "Where a foot decides (a pedal, a tap, a box that is set by hand before the night), "
            "or a program that is stored before it as printed, they do so; such scenes are counted "
            "by themselves.",
            "Where the switcher has a tempo for each preset, its clock and its tap outputs keep it "
            "from the press on, once the preset's messages are through.",
            "Presses come at the places that the songs say, at tonight's tempo. Where a song does "
            "not say it, the rig is taken to be at rest before each press.",
            "A byte takes 320 µs on the wire (MIDI 1.0 Detailed Specification 4.2.1, hardware). "
            "Whether the sender leaves out repeated status bytes (running status) is not known, "
            "so both are looked at, and what is worse counts.",
            "A box that is busy loses whole messages that begin in that time, and takes the next. "
            "A box that loses single bytes instead may take the rest of a message for another "
            "one; that is looked at, too, and scenes that are proven for whole messages alone are "
            "counted. What begins afresh with a status byte, as every press does, is understood "
            "by both.",
            "What let pass: silences is not proven: the scenes concerned are counted among those "
            "that cannot be known, with the reason that was given.",
        ),
    ),
    Part(
        "What is not looked at",
        (
            "How loud it is, how it sounds, noise, batteries, and cables that are broken. Try "
            "every scene at low volume first: levels may jump when a scene is changed.",
        ),
    ),
    Part(
        "The words",
        (
            "proven: it is so after any scene.",
            "proven if feet and start are as printed: what no message can set, and a foot or a "
            "hand can.",
            "cannot be known: explain says why, for each box, and the way out.",
            "don't care: the box is out of the signal, or nothing depends on it.",
        ),
    ),
)


def in_full() -> Iterator[str]:
    """Yield the lines that say what a proof is worth."""
    for number, part in enumerate(PARTS):
        if number:
            yield ""
        yield part.title
        for sentence in part.sentences:
            yield from fill(sentence, WIDTH, initial_indent="  - ", subsequent_indent="    ").split(
                "\n"
            )


def section() -> Iterator[str]:
    """Yield the same as a section of the reference page, in Markdown."""
    yield "## Proof"
    for part in PARTS:
        yield from ("", f"### {part.title}", "")
        for sentence in part.sentences:
            yield from fill(sentence, WIDTH, initial_indent="* ", subsequent_indent="  ").split(
                "\n"
            )
