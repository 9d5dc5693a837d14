"""Slips of a rig, in words: found while the rig is aimed at and scenes are bound to it."""

from __future__ import annotations

from setwright.scenes.explained import Explained, slip
from setwright.scenes.finding import Severity

AIMED: tuple[Explained, ...] = (
    slip(
        "unknown-effect",
        brief="An effect that this rig cannot make.",
        finds="A scene asks for an effect that the rig does not make; or an instead of: names one.",
        hurts="It would be missing from the scene.",
        do="write under effects: how this rig makes it, or under instead of: what may stand in",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                scenes:
                  Bare: [fuzz]
        """,
    ),
    slip(
        "program-not-free",
        brief="A free program of a unit that is none.",
        finds="Under free programs: stands one that has a name under programs:, or one twice.",
        hurts="Something would be stored on it, and what it was is lost.",
        do="write programs on which nothing is stored that you need",
        example="""\
            # in rig.yaml
            units:
              wobbler:
                programs: {tremolo: 42}
                free programs: [42]
        """,
    ),
    slip(
        "unknown-unit",
        brief="A unit that the rig does not have.",
        finds="An effect, a cable, a supply output, a foot or --without names a unit that the "
        "rig does not have.",
        hurts="What is meant cannot be known.",
        do="write its name as it stands under units:, or declare it there",
        example="""\
            # in rig.yaml
            effects:
              long echo: ecko
        """,
    ),
    slip(
        "unknown-state",
        brief="A program, position or channel that the unit does not have.",
        finds="A program, foot position, amplifier channel or position of a control is asked "
        "for that its unit does not declare.",
        hurts="What should be sent, or what the foot should do, cannot be known.",
        do="write its name as the unit declares it, or declare it there",
        example="""\
            # in rig.yaml
            effects:
              tremolo: {wobbler: vibrato}
        """,
    ),
    slip(
        "unknown-control",
        brief="A control that the unit does not have.",
        finds="An effect sets a control that its unit does not declare.",
        hurts="Which message sets it cannot be known.",
        do="write its name as it stands under controls:, or declare it there",
        example="""\
            # in rig.yaml
            effects:
              long echo: {echo: {set: {mix: 40 %}}}
        """,
    ),
    slip(
        "channel-missing",
        brief="A unit with programs or controls, and no MIDI channel.",
        finds="A unit has programs, controls or a switch over MIDI, and does not say on which "
        "channel it listens.",
        hurts="Nothing can be sent to it.",
        do="add channel: 1 to 16, or omni",
        example="""\
            # in rig.yaml
            units:
              squeezer:
                switched by: {cc: 1, on: 127, off: 0}
        """,
    ),
    slip(
        "display-not-said",
        brief="Programs of a unit whose display is not said.",
        finds="A unit has programs, and does not say how its display counts.",
        hurts="Where a display begins with 1, every program would be one beside the one meant.",
        do="add display: with its first and last program: 0 to 99, 1 to 128, A1 to H8",
        example="""\
            # in rig.yaml
            units:
              squeezer:
                channel: 3
                programs: {soft: 7}
        """,
    ),
    slip(
        "state-twice",
        brief="Two states of one unit with one name.",
        finds="Two programs, foot positions or channels of a unit have the same name.",
        hurts="Which of the two an effect asks for cannot be known.",
        do="give each its own name",
        example="""\
            # in rig.yaml
            units:
              wobbler:
                by foot: [tremolo, still]
        """,
    ),
    slip(
        "control-name-taken",
        brief="A control with a name that means something else.",
        finds="A control is called time, loop, program, or another word that has a meaning of "
        "its own.",
        hurts="What an effect asks for by that word cannot be known.",
        do="give it another name; a delay's time stands beside controls:, as time:",
        example="""\
            # in rig.yaml
            units:
              echo:
                controls: {use: {cc: 21}}
        """,
    ),
    slip(
        "unit-name-taken",
        brief="A unit called switcher or computer.",
        finds="A unit is called switcher or computer, and those are on the MIDI lines already.",
        hurts="Which of the two a cable leads to cannot be known.",
        do="give the unit another name",
        example="""\
            # in rig.yaml
            units:
              switcher: {is: splitter}
        """,
    ),
    slip(
        "switch-unclear",
        brief="A switch over MIDI of which it is not said how it switches.",
        finds="The control that switches a unit has no way of doing so, or two; or one value "
        "means both on and off.",
        hurts="Which value to send, and whether the state can be known, is open.",
        do="write on: and off: with their values; or any value flips: yes; or press: and release:",
        example="""\
            # in rig.yaml
            units:
              echo:
                switched by: {cc: 28, on: 127}
        """,
    ),
    slip(
        "curve-twice",
        brief="A control of which it is said twice what its values do.",
        finds="A control has more than one of linear:, points: and positions:.",
        hurts="Which of them is right cannot be known.",
        do="keep one of linear:, points: and positions:",
        example="""\
            # in rig.yaml
            units:
              echo:
                time: {cc: 20, linear: 20 ms to 1800 ms, positions: {short: 0, long: 127}}
        """,
    ),
    slip(
        "curve-unclear",
        brief="A curve that says too little, or in the wrong unit.",
        finds="A table of points has fewer than two, or several units; or the curve of a delay "
        "time is not in ms.",
        hurts="Which value gives which setting cannot be computed.",
        do="write two points or more, all in one unit, which is ms for a delay's time",
        example="""\
            # in rig.yaml
            units:
              echo:
                time: {cc: 20, points: {0: 20 ms}}
        """,
    ),
    slip(
        "contacts-disagree",
        brief="A table of relay contacts that does not come out.",
        finds="A state of what relays work says how too few or too many contacts stand, or stands "
        "as another state does, or is the only one.",
        hurts="Which contacts make which state cannot be known.",
        do="write open, closed or any for each of the numbers, in their order; no two states alike",
        example="""\
            # in rig.yaml
            units:
              combo:
                is: amplifier
                relays:
                  channel: {numbers: [1, 2], states: {clean: [open, open], crunch: [closed]}}
        """,
    ),
    slip(
        "foot-sends-disagree",
        brief="A pedal whose positions and values do not come out.",
        finds="A pedal says what it sends in a position that it has not, or not in each that it "
        "has, or has no positions.",
        hurts="Where the foot stands, and what is heard there, cannot be known.",
        do="write under values: each position of by foot:, with its value",
        example="""\
            # in rig.yaml
            units:
              pedal:
                is: sender
                by foot: [heel, middle, toe]
                foot sends: {channel: 9, cc: 11, values: {heel: 0, toe: 127}}
        """,
    ),
    slip(
        "setting-does-nothing",
        severity=Severity.WARNING,
        brief="A setting that does nothing in the program asked for.",
        finds="An effect asks for a program and sets a control that does nothing in it.",
        hurts="The setting is sent and not heard; perhaps another program was meant.",
        do="ask for the program in which the control works, or take the setting out",
        example="""\
            # in rig.yaml
            units:
              wobbler:
                programs: {tremolo: 42, vibrato: 43}
                controls: {depth: {cc: 21, only with: vibrato}}
            effects:
              tremolo: {wobbler: {state: tremolo, set: {depth: 64}}}
        """,
    ),
    slip(
        "loop-out-of-range",
        brief="A loop that the switcher does not have.",
        finds="A unit is in a loop that the switcher does not have.",
        hurts="The switcher cannot take it in and out.",
        do="write a loop that the switcher has, or mend loops: in the switcher's file",
        example="""\
            # in rig.yaml
            units:
              squeezer:
                loop: 9
        """,
    ),
    slip(
        "loop-twice",
        brief="One loop with two units in it.",
        finds="Two units say that they are in the same loop.",
        hurts="Neither can come without the other.",
        do="give each its own loop, or say shares with: if both are in it",
        example="""\
            # in rig.yaml
            units:
              squeezer:
                loop: 2
        """,
    ),
    slip(
        "relay-out-of-range",
        brief="A relay that the switcher does not have.",
        finds="A unit is worked by a relay that the switcher does not have.",
        hurts="Nothing would switch it.",
        do="write a relay that the switcher has, or mend relays: in the switcher's file",
        example="""\
            # in rig.yaml
            units:
              combo:
                relay: {number: 3, open: clean, closed: dirty}
        """,
    ),
    slip(
        "relay-twice",
        brief="One relay that works two units.",
        finds="Two units say that the same relay works them; or they say that they share it, and "
        "would have it rest open and closed at once.",
        hurts="Neither can change without the other.",
        do="give each its own relay, or say shares with: if both hang on one contact",
        example="""\
            # in rig.yaml
            units:
              combo:
                relay: {number: 1, open: clean, closed: dirty}
              head: {is: amplifier, relay: {number: 1, open: thin, closed: thick}}
        """,
    ),
    slip(
        "shares-nothing",
        brief="Units that are said to share, and have nothing in common.",
        finds="A unit says shares with: and names one that is in another loop and on another "
        "relay.",
        hurts="Whether the two go together cannot be known.",
        do="give both the same loop: or relay: number, or take shares with: out",
        example="""\
            # in rig.yaml
            units:
              squeezer:
                shares with: wobbler
        """,
    ),
    slip(
        "bank-out-of-range",
        brief="Banks that the switcher does not have.",
        finds="The rig is given banks that the switcher does not have.",
        hurts="Presets would be put where there is no place.",
        do="write banks that the switcher has, or mend banks: in the switcher's file",
        example="""\
            # in rig.yaml
            switcher: {file: board.yaml, banks: 1 to 12}
        """,
    ),
    slip(
        "switch-out-of-range",
        brief="A switch that no bank has.",
        finds="A switch is kept the same in every bank, or a scene always lies on it, and no bank "
        "has it.",
        hurts="There is nowhere to put it.",
        do="write a switch that the switcher has",
        example="""\
            # in rig.yaml
            switcher: {file: board.yaml, every bank: {switch 6: Tuner}}
        """,
    ),
    slip(
        "switch-twice",
        brief="A switch that is given to two things.",
        finds="Two scenes are to lie on one switch, or one on a switch that is kept the same in "
        "every bank; or a switch is kept for two things.",
        hurts="Only one of them can lie there.",
        do="give each a switch of its own, or take one of them out",
        example="""\
            # in rig.yaml
            switcher: {file: board.yaml, every bank: {switch 5: Tuner}, always on: {Far: switch 5}}
        """,
    ),
    slip(
        "tap-output-out-of-range",
        brief="A tap output that the switcher does not have.",
        finds="A unit is tapped by an output that the switcher does not have.",
        hurts="Nothing would tap it.",
        do="write a tap output that the switcher has, or mend tap outputs: in the switcher's file",
        example="""\
            # in rig.yaml
            units:
              echo:
                tempo from: tap
                tap output: 1
        """,
    ),
    slip(
        "tapped-in-vain",
        brief="A unit on a tap output that takes its tempo elsewhere.",
        finds="A unit is on a tap output of the switcher, and does not say tempo from: tap.",
        hurts="What sets its time is said twice, or not at all.",
        do="add tempo from: tap, or take tap output: out",
        example="""\
            # in board.yaml
            tap outputs: 1
            # in rig.yaml
            units:
              echo:
                tap output: 1
        """,
    ),
    slip(
        "foot-without-unit",
        severity=Severity.NOTE,
        brief="The foot is told to move a unit that is left at home tonight.",
        finds="A unit is left out with --without, and songs tell the foot to move it. These moves "
        "are not printed.",
        hurts="A swell that was to be closed stays open, a boost that was to come does not.",
        do="leave it so, if the songs sound right without it; or write instead of: {NAME: "
        "nothing} in the rig",
        example="""\
            # in rig.yaml, compiled --without swell
            units:
              swell: {by foot: [closed, open], at start: open}
            # in songs.yaml
            songs:
              - title: The Rakes Of Mallow
                order:
                  - Start: {foot: swell closed}
        """,
    ),
    slip(
        "song-suffers",
        severity=Severity.WARNING,
        sometimes=(Severity.NOTE,),
        brief="A song that changes because a unit is not there tonight.",
        finds="Without a unit (--without) a song loses an effect; or, which is one note for the "
        "night, something stands in for it. The note lists what is played instead, by effect and "
        "song.",
        hurts="What is lost is not heard tonight.",
        do="let the rig say what may stand in, with instead of:",
        example="""\
            # in rig.yaml, compiled --without echo
            effects:
              long echo: echo
        """,
    ),
)
