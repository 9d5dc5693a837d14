"""Faults of the music and the rig that are found before the checks run, explained like them.

While a rig is aimed at, scenes are bound and presets are filled, some faults come to light that
no check need look for again. Slips of the rig itself are in `aimed`, those of writing in
`setwright.scenes.slips`.
"""

from __future__ import annotations

from setwright.scenes.explained import Explained, slip
from setwright.scenes.finding import Severity

EARLIER: tuple[Explained, ...] = (
    slip(
        code="effects-clash",
        severity=Severity.ERROR,
        brief="Two effects of one scene need one unit in two states at once.",
        finds="A scene asks for two effects that need one unit in two states at once.",
        hurts="Only one of the two can sound.",
        do="leave one of them out of this scene, or let the rig make it with another unit",
        example="""\
            effects:
              tremolo: {wobbler: tremolo}
              vibrato: {wobbler: vibrato}
            scenes:
              Shake: [tremolo, vibrato]
        """,
    ),
    slip(
        code="not-a-combination",
        brief="A name with a + in it that does not name two effects.",
        finds="A line under effects: names effects with + between them, to say which program makes "
        "them at once; and there are not two different ones.",
        hurts="When it should be chosen cannot be known.",
        do="write the effects that one program makes at once, with + between them",
        example="""\
            effects:
              tremolo + tremolo: {wobbler: both}
        """,
    ),
    slip(
        code="combined-in-vain",
        severity=Severity.WARNING,
        brief="Effects that need no combination, for different units make them.",
        finds="A line under effects: says how two effects are made at once that, each alone, are "
        "made with different units.",
        hurts="They can sound together as it is; and where both are asked for, one of the two "
        "units is left out.",
        do="delete the line; or let one unit make them, each alone",
        example="""\
            effects:
              compression + tremolo: {wobbler: both}
        """,
    ),
    slip(
        code="foot-clash",
        severity=Severity.ERROR,
        brief="The foot is told one thing, and an effect of the scene needs another.",
        finds="The foot is told to bring a unit into one position, and an effect of the same scene "
        "needs another.",
        hurts="Whichever the foot does is wrong.",
        do="delete the move, or take the effect out of the scene",
        example="""\
            Far: [compression, boost]
            order:
              - Far: {at: round 4 A, foot: booster resting}
        """,
    ),
    slip(
        code="nothing-switches-it",
        brief="An effect made with a unit that nothing switches.",
        finds="An effect is made with a unit that is in no loop, has no switched by: and is asked "
        "for no state and no setting.",
        hurts="The scene that asks for the effect sounds like the one that does not.",
        do="give the unit a loop: or switched by:, ask for one of its states, or say always on: "
        "yes",
        example="""\
            effects:
              drive: growler
        """,
    ),
    slip(
        code="made-of-nothing",
        brief="An effect of which it is not said how it is made.",
        finds="An effect stands under effects: without a unit.",
        hurts="Scenes ask for it, and nothing changes.",
        do="name its units, or say that it needs none: {lead: nothing}",
        example="""\
            effects:
              drive: {}
        """,
    ),
    slip(
        code="program-out-of-range",
        severity=Severity.ERROR,
        brief="A program that its unit does not have.",
        finds="A program is not on its unit's display, or lies beyond what program changes and the "
        "declared bank selects can reach.",
        hurts="The box ignores it, or loads something else.",
        do="write the program as the box shows it; beyond the first 128, declare bank select:",
        example="""\
            display: 0 to 99
            programs: {tremolo: 142}
        """,
    ),
    slip(
        code="time-not-reached",
        severity=Severity.WARNING,
        brief="A delay time that the unit cannot make.",
        finds="A scene asks for a delay time that the unit cannot make: beyond the curve of its "
        "control, without a curve, or in beats where the song has no tempo.",
        hurts="The repeats keep the time of another song.",
        do="ask for a shorter or longer note, give the song a tempo, or declare the curve",
        example="""\
            Far: {effects: [compression, long echo], echo: whole}
        """,
    ),
    slip(
        code="preset-full",
        severity=Severity.ERROR,
        brief="A scene that needs more than a preset stores.",
        finds="A scene needs more programs or controls than a preset of the switcher stores, or "
        "some on channels for which it has no slot.",
        hurts="What does not fit stays as the scene before left it.",
        do="use a program that has the settings built in, let a control rest at one value for the "
        "whole night, or put a unit into a loop",
        example="""\
            each preset stores: {programs: 4, controls: 1, bank select: yes}
            Rise: [compression, tremolo, long echo]
        """,
    ),
    slip(
        code="bank-too-small",
        severity=Severity.ERROR,
        brief="A song with more scenes than a bank has switches.",
        finds="A song has more different scenes than a bank has switches free, or than two have "
        "where it says over two banks: yes.",
        hurts="You would have to change banks in the middle of the song.",
        do="take a scene out, let two scenes sound the same, or write over two banks: yes",
        example="""\
            switches: 3
        """,
    ),
    slip(
        code="banks-too-few",
        severity=Severity.ERROR,
        brief="A night that needs more banks than the rig has.",
        finds="Tonight's songs need more banks than this rig has.",
        hurts="The last songs have no place.",
        do="give this rig more banks, play fewer songs, or let songs share sounds",
        example="""\
            switcher: {file: board.yaml, banks: 3 to 3}
        """,
    ),
)

PASSED: tuple[Explained, ...] = (
    slip(
        "unknown-check",
        brief="A code to let pass that does not exist.",
        finds="A let pass: names a code that is none.",
        hurts="What should be let pass is not.",
        do="write the code as it stands in brackets behind the finding",
        example="""\
            # in rig.yaml
            units:
              echo:
                let pass: {chanel-collision: they change together}
        """,
    ),
    slip(
        "not-to-let-pass",
        brief="A code that cannot be let pass.",
        finds="A let pass: names a code that cannot be let pass: what can destroy a box, or what "
        "no check finds.",
        hurts="Letting it pass would hide that a box may burn, or that nothing can be made of "
        "what is written.",
        do="mend what the code finds",
        example="""\
            # in rig.yaml
            units:
              echo:
                let pass: {supply-voltage: it has lived so far}
        """,
    ),
    slip(
        "nothing-to-let-pass",
        severity=Severity.NOTE,
        brief="A let pass for something that is not found.",
        finds="A night lets pass a code that finds nothing.",
        hurts="It can hide a fault of tomorrow.",
        do="delete it",
        example="""\
            # in night.yaml
            let pass: {midi-loop: no}
        """,
    ),
)
