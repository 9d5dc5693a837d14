"""Books for tests: one written by hand, as a musician writes, and ones of any size.

The same arguments always make the same files, whatever becomes of the demo.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

SONGS = """\
# The book of the Quayside winter dance: what we play, and how each tune sounds.

sounds:
  plain: [compression]
  brushed: [compression, room]
  frost: [compression, tremolo, long echo]
  shiver: [compression, vibrato]
  barn dance: [compression, crunch, slap echo]
  blaze: [compression, lead, long echo]
  choir: [compression, rotor, hall]

songs:
  - title: The Swallow's Tail
    key: A major
    meter: 2/2
    tempo: half = 104
    form: AABB, 3 rounds
    guitar: steel, capo 2
    scenes:
      Start: plain
      Lift: {sound: frost, echo: dotted quarter}
      Blaze: {like: Lift, add: lead, drop: tremolo}
    order:
      - Start
      - Lift: round 2 A
      - Blaze: {at: round 3 B, cue: caller lifts the lamp, foot: swell open}

  - title: Drowsy Maggie
    key: E minor
    meter: 2/2
    tempo: half = 108
    form: AABB, 4 rounds
    scenes:
      Start: brushed
      Shade: shiver
      Drive: {sound: blaze, echo: dotted eighth}
    order:
      - Start
      - Shade: round 2 A
      - Drive: round 3 A
      - Shade: {at: round 4 B2, cue: fiddle alone}

  - title: Tip the Cruiskeen
    key: F# minor
    meter: 6/8
    tempo: dotted quarter = 116
    form: AABB, 3 rounds
    echo: dotted quarter
    scenes:
      Start: plain
      Ring: frost
      Turn:
        like: Ring
        drop: tremolo
        add: [rotor, boost]
      Blaze: blaze
    order:
      - Start
      - Ring: round 1 B
      - Turn: round 2 B
      - Blaze: round 3 A2

  - title: The Kid on the Mountain
    key: E minor
    meter: 9/8
    tempo: dotted quarter = 120
    form: ABCDE, 2 rounds
    bars: {A: 8, B: 8, C: 8, D: 8, E: 16}
    scenes:
      Low: shiver
      Climb: {like: Low, add: boost}
      Top: {sound: blaze, echo: 350 ms, note: watch the concertina}
    order:
      - Low
      - Climb: round 1 C
      - Low: round 2 A
      - Top: round 2 D

  - title: The Minstrel Boy
    id: minstrel air
    key: G major
    meter: 4/4
    tempo: quarter = 72
    lasts: 3:10
    guitar: nylon
    note: slow, with the door open
    scenes:
      Hush: [compression]
      Wide: {sound: choir, add: boost}
      Away: {effects: [compression, long echo], echo: quarter}
    order:
      - Hush
      - Wide: 1:05
      - Away: {at: bar 49, cue: last verse}

  - title: The Minstrel Boy
    id: minstrel march
    key: G major
    meter: 4/4
    tempo: quarter = 104
    form: AB, 3 rounds
    scenes:
      March: barn dance
      Flags: {like: March, drop: slap echo, add: [tremolo, lead]}
    order:
      - March
      - Flags: bar 33

  - title: Harvest Home
    key: D major
    meter: 4/4
    tempo: half = 84
    form: AABB, 3 rounds
    scenes:
      Start: plain
      Stomp: barn dance
      Blaze: {like: Stomp, add: boost}
      Out: {like: Blaze, drop: [slap echo, crunch]}
    order:
      - Start
      - Stomp: round 2 A
      - Blaze: round 3 A
      - Out: {at: round 3 B2, cue: drums stop}

  - title: Soldier's Joy               # no scenes: the rig's general ones
    key: D major
    meter: 2/2
    tempo: half = 100

  - title: Brian Boru's March
    key: A minor
    meter: 6/8
    tempo: dotted quarter = 92
    form: AABBCC
    scenes:
      Far: {sound: brushed, note: from the back of the hall}
      Near: shiver
      Here: {like: Near, add: [crunch, slap echo], drop: vibrato}
    order:
      - Far
      - Near: round 1 B
      - Here: round 1 C

  - title: Planxty Fanny Powers
    key: A major
    meter: 6/8
    tempo: dotted quarter = 66
    form: AB, 3 rounds
    echo: 420 ms
    scenes:
      Start: brushed
      Bells: {sound: choir, drop: hall, add: long echo}
      Close: plain
    order:
      - Start
      - Bells: round 2 A
      - Close: {at: round 3 B, foot: swell open}
"""

NIGHT = """\
# What we play at the quay, on two amplifiers.

night: Winter dance
date: second Saturday in January
rig: rig.yaml
songs: songs.yaml

sets:
  - name: Before soup
    at most: 45 min
    play:
      - The Swallow's Tail
      - straight into: Drowsy Maggie
      - {song: Tip the Cruiskeen, capo: 4}
      - The Kid on the Mountain
      - minstrel air
  - name: After soup
    at most: 50 min
    note: the lamp goes out at eleven
    play:
      - minstrel march
      - song: Harvest Home
        capo: 0
        tempo: half = 88
        leave out: Out
      - straight into: Soldier's Joy
      - Brian Boru's March

if asked: [Planxty Fanny Powers]
"""


RIG = """\
# The Boathouse rig: two amplifiers; the echo stands before the second one alone.

rig: Boathouse
switcher: {file: desk.yaml, banks: 1 to 16, every bank: {switch 8: Tuner}}

units:
  swell:
    is: volume
    by foot: [closed, open]
    at start: open
  fuzz:
    loop: 1
    power: {draws: 5 mA, volts: 9 V}
  wobbler:                         # modulation, one program at a time
    loop: 2
    channel: 6
    display: 0 to 99
    programs: {tremolo: 42, vibrato: 43, rotor: 44}
    same program again: ignored
    busy after program: 120 ms
    acts only on: what is declared
    power: {draws: 180 mA, volts: 9 V}
  booster:
    loop: 3
    power: {draws: 20 mA, volts: 9 to 18 V}
  squeezer:
    loop: 4
    power: {draws: 12 mA, volts: 9 V}
  barn:                            # reverb, counts its programs from 1
    loop: 6
    channel: 11
    display: 1 to 128
    programs: {small room: 3, great hall: 12}
    settles in: 40 ms
    acts only on: what is declared
    power: {draws: 250 mA, volts: 9 V}
  echo:
    channel: 9
    switched by: {cc: 28, on: 127, off: 0}
    time: {cc: 20, linear: 20 ms to 1800 ms, at rest: 400 ms}
    controls:
      mix: {cc: 21, linear: 0 % to 100 %, at rest: 30 %}
    tails: stay
    acts only on: what is declared
    power: {draws: 160 mA, volts: 9 V}
  splitter: {is: splitter}
  oak amplifier:
    is: amplifier
    relay: {number: 1, open: clean, closed: crunch}
  ash amplifier: {is: amplifier}

effects:
  compression: squeezer
  tremolo: {wobbler: tremolo}
  vibrato: {wobbler: vibrato}
  rotor: {wobbler: rotor}
  boost: booster
  lead: fuzz
  crunch: {oak amplifier: crunch}
  long echo: echo
  slap echo: {echo: {set: {time: 118 ms, mix: 22 %}}}
  room: {barn: small room}
  hall: {barn: great hall}

general:                           # for songs that have no scenes of their own
  Plain: [compression]
  Room: [compression, room]
  Shiver: [compression, tremolo]
  Loud: [compression, lead, long echo]

instead of:
  tremolo: vibrato
  hall: [room, long echo, nothing]
  room: nothing
  long echo: [hall, nothing]
  slap echo: [room, nothing]
  lead: [boost, crunch]

path:
  - [guitar, swell, fuzz, wobbler, booster, squeezer, barn, splitter]
  - [splitter, oak amplifier]
  - [splitter, echo, ash amplifier]

midi:
  - [switcher, wobbler, barn, echo]

supply:
  one: {gives: 100 mA, volts: 9 V, feeds: fuzz}
  two: {gives: 300 mA, volts: 9 V, feeds: wobbler}
  three: {gives: 100 mA, volts: 9 V, feeds: booster}
  four: {gives: 100 mA, volts: 9 V, feeds: squeezer}
  five: {gives: 500 mA, volts: 9 V, feeds: barn}
  six: {gives: 300 mA, volts: 9 V, feeds: echo}
"""

SWITCHER = """\
# The switcher, as its maker made it. Another rig has the other half of its banks.

switcher: desk
banks: 32
switches: 8
loops: 8
relays: [hold, hold]
each preset stores: {programs: 4, controls: 4, on any channel: yes, sends: programs first, names: 8}
bank moves: {by: up and down, loads at once: no}
recalled on channel: 16
recalled by bank select: msb
same switch again: sends again
at power up: first preset
volume loop: {after loop: 5}
"""


HEAD = "night: X\nrig: rig.yaml\nsongs: songs.yaml\n"
"""The beginning of a night that plays nothing yet."""


def small_book() -> dict[str, str]:
    """Return ten tunes, a night that plays them, a rig and its switcher, by file name.

    Nothing is wrong with any of it.
    """
    return {"night.yaml": NIGHT, "songs.yaml": SONGS, "rig.yaml": RIG, "desk.yaml": SWITCHER}


def write_files(folder: Path, files: dict[str, str]) -> None:
    """Write ``files`` (text by name) into ``folder``, line ends as they are."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_bytes(text.encode("utf-8"))


def write_book(folder: Path, songs: int, scenes: int = 6) -> Path:
    """Write a book of ``songs`` songs with ``scenes`` (3 to 6) scenes each; return its night.

    The night plays all of them, twenty to a set.
    """
    night = ["night: A long night", "rig: rig.yaml", "songs: songs.yaml", "sets:"]
    book = [*_SOUNDS, "songs:"]
    for number in range(songs):
        title = _title(number)
        book += _song(number, title, scenes)
        if number % 20 == 0:
            night += [f"  - name: Set {number // 20 + 1}", "    play:"]
        night.append(f"      - {'straight into: ' if number % 20 % 3 == 1 else ''}{title}")
    files = {"songs.yaml": "\n".join(book) + "\n", "night.yaml": "\n".join(night) + "\n"}
    # So many songs may need more banks than the small book's switcher has: one for each.
    files["desk.yaml"] = SWITCHER.replace("banks: 32", f"banks: 1 to {max(32, songs)}")
    files["rig.yaml"] = RIG.replace("banks: 1 to 16, ", "")
    write_files(folder, files)
    return folder / "night.yaml"


_SOUNDS = (
    "sounds:",
    "  plain: [compression]",
    "  brushed: [compression, room]",
    "  frost: [compression, tremolo, long echo]",
    "  shiver: [compression, vibrato]",
    "  stomp: [compression, crunch, slap echo]",
    "  blaze: [compression, lead, long echo]",
    "  choir: [compression, rotor, hall]",
)
_FIRST = ("Grey", "Long", "Wet", "Merry", "Crooked", "Silver", "Hollow", "Idle", "Windy", "Salt")
_SECOND = ("Harbour", "Ladder", "Kettle", "Lantern", "Anchor", "Orchard", "Cellar", "Herring")
_THIRD = ("Reel", "Jig", "Hornpipe", "March", "Waltz")
_MUSIC = (
    ("2/2", "half = 104", "dotted quarter"),
    ("6/8", "dotted quarter = 112", "dotted quarter"),
    ("4/4", "half = 84", "dotted eighth"),
    ("2/4", "quarter = 100", "quarter"),
    ("3/4", "quarter = 132", "triplet quarter"),
)
_KEYS = ("D major", "G major", "A dorian", "E minor", "F# minor")
_SCENES = (
    "      Start: {first}",
    "      Lift: {{sound: {second}, echo: {echo}}}",
    "      Blaze: {{like: Lift, add: lead}}",
    "      Turn: {{sound: {first}, add: boost, note: after the break}}",
    "      Hush: [compression, room]",
    "      Away: {{like: Hush, drop: room, echo: 350 ms, add: long echo}}",
)
_ORDER = (
    "      - Start",
    "      - Lift: round 1 B",
    "      - Blaze: {at: round 2 A, cue: caller lifts the lamp}",
    "      - Turn: round 2 B",
    "      - Hush: round 3 A",
    "      - Away: {at: round 3 B2, foot: swell open}",
)


def _title(number: int) -> str:
    rest, kind = divmod(number, len(_THIRD))
    rest, first = divmod(rest, len(_FIRST))
    rest, second = divmod(rest, len(_SECOND))
    name = f"The {_FIRST[first]} {_SECOND[second]} {_THIRD[kind]}"
    return f"{name} No. {rest + 1}" if rest else name


def _song(number: int, title: str, scenes: int) -> Iterator[str]:
    meter, tempo, echo = _MUSIC[number % len(_MUSIC)]
    first = ("plain", "brushed", "choir")[number % 3]
    second = ("frost", "shiver", "stomp", "blaze")[number % 4]
    # Lead is part of one sound already; asking for it twice would be a finding.
    blaze = "boost" if second == "blaze" else "lead"
    yield f"  - title: {title}"
    yield f"    key: {_KEYS[number % len(_KEYS)]}"
    yield f"    meter: {meter}"
    yield f"    tempo: {tempo}"
    yield "    form: AABB, 3 rounds"
    yield "    scenes:"
    for line in _SCENES[:scenes]:
        line = line.format(first=first, second=second, echo=echo).replace("lead", blaze)
        # Nothing echoes in a sound with vibrato alone; asking for it would be a finding.
        yield line.replace(f", echo: {echo}", "") if second == "shiver" else line
    yield "    order:"
    yield from _ORDER[:scenes]
