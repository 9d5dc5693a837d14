"""Slips of values, in words: numbers, channels, names and shapes that do not fit."""

from __future__ import annotations

from setwright.scenes.explained import Explained, slip

EXPLAINED: tuple[Explained, ...] = (
    slip(
        "unknown-key",
        brief="A key that is not known where it stands.",
        finds="A name before a colon is none of those that are known in this place.",
        hurts="What it says would count for nothing.",
        do="write it as the editor offers it, or as ‘setwright schema’ lists it",
        example="""\
            # in rig.yaml
            units:
              squeezer:
                lop: 1
        """,
    ),
    slip(
        "missing-key",
        brief="Something that must be said and is not.",
        finds="A record lacks what it cannot do without; or an entry of a set names no song, or "
        "two.",
        hurts="What should stand there cannot be guessed.",
        do="add it, with what belongs there",
        example="""\
            # in night.yaml
            if asked:
              - {capo: 3}
        """,
    ),
    slip(
        "empty-value",
        brief="A name and a colon, and nothing behind them.",
        finds="Nothing stands behind a colon or a dash where a value belongs.",
        hurts="It could mean nothing, or be forgotten.",
        do="write a value, or delete the line",
        example="""\
            # in songs.yaml
            songs:
              - title: Blind Mary
                key:
        """,
    ),
    slip(
        "wrong-shape",
        brief="A list, a single value, or names with values where another of them belongs.",
        finds="A list stands where one value belongs, or one value where names with values do, "
        "and so on.",
        hurts="What belongs to what cannot be known.",
        do="write what belongs there: one value, a list with dashes, or names with values",
        example="""\
            # in rig.yaml
            units:
              squeezer:
                loop: [1, 2]
        """,
    ),
    slip(
        "unknown-choice",
        brief="A word that is none of those to choose from.",
        finds="A word stands where only a few can, and is none of them.",
        hurts="What the box does cannot be known.",
        do="write one of the words that are named",
        example="""\
            # in rig.yaml
            units:
              echo:
                tails: remain
        """,
    ),
    slip(
        "not-yes-or-no",
        brief="Something else than yes or no.",
        finds="Something else stands where only yes or no can.",
        hurts="It could mean either.",
        do="write yes or no",
        example="""\
            # in rig.yaml
            units:
              wobbler:
                thru: maybe
        """,
    ),
    slip(
        "not-a-number",
        brief="Something that is no number, or no whole one.",
        finds="Something else stands where a number belongs, or one with a fraction where only "
        "a whole one does.",
        hurts="How much or how many was meant cannot be known.",
        do="write the number in digits",
        example="""\
            # in rig.yaml
            units:
              squeezer:
                loop: first
        """,
    ),
    slip(
        "out-of-range",
        brief="A number beyond what is possible there.",
        finds="A number is smaller or larger than what can stand there.",
        hurts="No box can do it, or MIDI cannot say it.",
        do="write a number from the range that is named",
        example="""\
            # in rig.yaml
            units:
              echo:
                switched by: {cc: 28, on: 128, off: 0}
        """,
    ),
    slip(
        "channel-out-of-range",
        brief="A MIDI channel that is not from 1 to 16.",
        finds="A channel is not from 1 to 16, as people count them.",
        hurts="MIDI has sixteen channels, so no box can listen there.",
        do="write 1 to 16; a manual that counts from 0 means one less than you write",
        example="""\
            # in rig.yaml
            units:
              wobbler:
                channel: 17
        """,
    ),
    slip(
        "control-out-of-range",
        brief="A control number that is not from 0 to 127.",
        finds="The number of a control is not from 0 to 127.",
        hurts="MIDI has no such control.",
        do="write the number that the unit's manual lists, 0 to 119",
        example="""\
            # in rig.yaml
            units:
              echo:
                switched by: {cc: 128, on: 127, off: 0}
        """,
    ),
    slip(
        "control-is-mode-message",
        brief="A control number from 120 to 127, which are no controls.",
        finds="The number of a control is from 120 to 127; those are channel mode messages.",
        hurts="All boxes on the line take them: for all sound off, or for another way of "
        "listening to channels.",
        do="write the control's number, 0 to 119, as the unit's manual lists it",
        example="""\
            # in rig.yaml
            units:
              echo:
                switched by: {cc: 123, on: 127, off: 0}
        """,
    ),
    slip(
        "not-a-display",
        brief="Something that is not what a display shows.",
        finds="The first and the last reading of a display cannot be told from what stands there.",
        hurts="Which program a reading is on the wire cannot be known.",
        do="write the first and the last reading: 0 to 99, 1 to 128, A1 to H8",
        example="""\
            # in rig.yaml
            units:
              wobbler:
                display: 0-99
        """,
    ),
    slip(
        "not-an-amount",
        brief="A setting that is no number with ms, s, %, Hz or dB.",
        finds="Something else stands where a setting or the end of a curve belongs.",
        hurts="Which value the control needs cannot be computed.",
        do="write for example 20 ms, 1.8 s, 40 % or 64",
        example="""\
            # in rig.yaml
            units:
              echo:
                time: {cc: 20, linear: 20 beats to 1800 beats}
        """,
    ),
    slip(
        "not-a-range",
        brief="A curve without its second end.",
        finds="A straight curve says what one value does, and not what the other does.",
        hurts="Nothing between can be computed.",
        do="write both ends, for example 20 ms to 1800 ms",
        example="""\
            # in rig.yaml
            units:
              echo:
                time: {cc: 20, linear: 1800 ms}
        """,
    ),
    slip(
        "range-empty",
        brief="A curve that ends where it begins.",
        finds="Both ends of a straight curve are the same.",
        hurts="The control would do nothing.",
        do="write two different values, as the manual lists them",
        example="""\
            # in rig.yaml
            units:
              echo:
                time: {cc: 20, linear: 20 ms to 20 ms}
        """,
    ),
    slip(
        "span-backwards",
        brief="A row of numbers that runs backwards.",
        finds="The second number of a row is smaller than the first.",
        hurts="It could be a slip in either of them.",
        do="write the smaller one first",
        example="""\
            # in rig.yaml
            switcher: {file: board.yaml, banks: 9 to 1}
        """,
    ),
    slip(
        "units-differ",
        brief="Two amounts that should be in one unit and are not.",
        finds="The two ends of a curve are in different units; or a setting is in another unit "
        "than the curve of its control.",
        hurts="One cannot be turned into the other.",
        do="use one unit for both",
        example="""\
            # in rig.yaml
            units:
              echo:
                time: {cc: 20, linear: 20 ms to 100 %}
        """,
    ),
    slip(
        "not-a-time",
        brief="A time in something else than ms or s.",
        finds="A number stands where a time belongs, and is not in ms or s.",
        hurts="How long it takes cannot be known.",
        do="write for example 120 ms or 1.8 s",
        example="""\
            # in rig.yaml
            units:
              wobbler:
                busy after program: 120
        """,
    ),
    slip(
        "not-a-message",
        brief="Something that is no message of a preset.",
        finds="Under messages: stands something that is no program change and no control change "
        "in hexadecimal.",
        hurts="What the switcher holds there cannot be known.",
        do="write its two or three bytes: c5 2a",
        example="""\
            # all of board.stored.yaml
            stored: board
            presets:
              1/1: {name: Start, messages: [c5]}
        """,
    ),
    slip(
        "not-a-current",
        brief="Something that is no electric current.",
        finds="Something else stands where a current in mA or A belongs.",
        hurts="Whether the supply gives enough cannot be computed.",
        do="write the current as the label says it: 45 mA",
        example="""\
            # in rig.yaml
            units:
              squeezer:
                power: {draws: 45, volts: 9 V}
        """,
    ),
    slip(
        "not-a-distance",
        brief="Something that is no distance.",
        finds="Something else stands where a distance in m or cm belongs.",
        hurts="How large letters have to be cannot be computed.",
        do="write a distance with its unit: 1.6 m or 80 cm",
        example="""\
            # in rig.yaml
            cue sheet: {eyes above: 160}
        """,
    ),
    slip(
        "not-a-time-of-day",
        brief="Something that is no time of day.",
        finds="Something else stands where a time of day belongs.",
        hurts="When each song is due cannot be computed.",
        do="write a time of day: 20:30 or 8:30 pm",
        example="""\
            # in night.yaml
            sets:
              - begins: half past eight
                play: [Blind Mary]
        """,
    ),
    slip(
        "not-a-voltage",
        brief="Something that is no voltage.",
        finds="Something else stands where a voltage belongs, or a range of voltages.",
        hurts="Whether the supply suits the box cannot be known, and a wrong one can destroy it.",
        do="write the voltage as the label says it: 9 V, or 9 to 18 V",
        example="""\
            # in rig.yaml
            units:
              squeezer:
                power: {draws: 45 mA, volts: nine}
        """,
    ),
    slip(
        "name-too-long",
        brief="A name of more than 200 characters.",
        finds="A name is longer than 200 characters.",
        hurts="No display, sheet or terminal shows it; a quotation mark may be missing.",
        do="shorten it",
        example="""\
            # in night.yaml
            night: The dance in the shed, with …
        """,
    ),
    slip(
        "text-too-long",
        brief="A note or cue of more than 2,000 characters.",
        finds="A text is longer than 2,000 characters.",
        hurts="It fits on no sheet; a quotation mark may be missing.",
        do="shorten it",
        example="""\
            # in night.yaml
            note: Doors at eight, then …
        """,
    ),
)
