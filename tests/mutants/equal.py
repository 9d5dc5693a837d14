"""Mutants that survive because they change nothing that can be noticed, each with a reason."""

from __future__ import annotations

_GUARD = "a guard for the type checker: what is proven of a switch has these values"
_ALWAYS_ONE = "what no scene moves tonight is in no doubt: there is always one that left it"
_SAME_OUTPUT = "all of them hang on one output"
_BOTH_WAYS = "what two ranges have in common is the same either way round"
_MAPPING = "a mapping is shown at its key in any case"
_STATUS = "any number that is no status byte does: nothing was sent before"
EQUIVALENT: dict[tuple[str, str, str], str] = {
    ("bind", "swap", "key = (asked, str(milliseconds), str(scene.echo), scene.echo_of_song)"): (
        "the key of a cache, in any order"
    ),
    ("lower", "drop", "if switch is None or switch.on is None or switch.off is None:"): _GUARD,
    ("lower", "drop", 'if one.quantity == "switch" and isinstance(one.value, bool):'): _GUARD,
    (
        "lower",
        "drop",
        'if one.quantity == "program" and isinstance(one.value, Program) and _reachable(one):',
    ): ("a guard for the type checker"),
    ("bind", "drop", "if stand_in is None and effect.name not in self.target.lost:"): (
        "an effect that the rig lacks is an error: nothing is sent then"
    ),
    ("bind", "drop", "if self.feet.at_rest:"): "where a foot stands is told by no message",
    ("bind", "swap", "for name in (*self.target.makes, *self.target.lost):"): (
        "the order in which names are known decides nothing that is sent"
    ),
    ("wire", "drop", "last = -1"): _STATUS,
    (
        "bind",
        "constant",
        "playable = False",
    ): "an effect that the rig lacks is an error: nothing is sent then",
    (
        "bind",
        "constant",
        "def song(self, song: Song, playing: Playing | None = None, number: int = 0) -> BoundSong:",
    ): ("the number of a song that is not played tonight: anything does"),
    ("wire", "constant", "last = -1"): _STATUS,
    ("midi", "constant", "last = -1"): _STATUS,
    (
        "lower",
        "constant",
        "zero = (0, 0)",
    ): "units that load nothing come before those that load, as before",
    (
        "lower",
        "constant",
        'return (2, busy, settles, command.quantity == "switch")',
    ): "the last rank stays last",
    (
        "lower",
        "constant",
        "channel = unit.channel if isinstance(unit.channel, int) else 1",
    ): "a unit on every channel hears any channel",
    ("other-sender", "drop", "return reaction(unit, program(sending.channel or 1, 0))[0].acting"): (
        "what sends programs always has a channel"
    ),
    (
        "other-sender",
        "constant",
        "return reaction(unit, program(sending.channel or 1, 0))[0].acting",
    ): "whether a unit acts on programs does not hang on their number; they always have a channel",
    (
        "other-sender",
        "swap",
        'if unit is None or unit.channel not in ("omni", sending.channel):',
    ): "in any order",
    (
        "sent-twice",
        "drop",
        "meant = {sent.command.unit for sent in compiled.traffic if sent.sender == SWITCHER}",
    ): "both routes hold the same messages, and the computer's recalls are meant for no unit",
    (
        "sent-twice",
        "negate",
        "meant = {sent.command.unit for sent in compiled.traffic if sent.sender == SWITCHER}",
    ): "both routes hold the same messages, and the computer's recalls are meant for no unit",
    ("common/full_presets", "drop", "if other is not None and there is not None:"): (
        "a guard for the type checker: the scene and what it sends there come together"
    ),
    (
        "channel-collision",
        "swap",
        "first, second = sorted((sent.command.unit, hearing.unit), key=rank.__getitem__)",
    ): "both are sorted",
    ("supply-overloaded", "constant", "gives = units[0].supply.gives"): _SAME_OUTPUT,
    ("supply-voltage", "constant", "given = units[0].supply.volts"): _SAME_OUTPUT,
    (
        "supply-voltage",
        "swap",
        "possible = [common for one in units if (common := _common(given, one.power.volts))]",
    ): _BOTH_WAYS,
    ("supply-voltage", "swap", "if _common(most, one.power.volts) is None:"): _BOTH_WAYS,
    ("supply-voltage", "swap", "alone = _common(given, one.power.volts) is None"): _BOTH_WAYS,
    (
        "no-clock",
        "drop",
        'if name not in lines.gone and any(one.kind == "clock" for one in unit.sends)',
    ): "what is missing reaches nobody",
    (
        "beyond-recall",
        "constant",
        "for preset in takewhile(lambda one: compiled.recall_of(one.scenes[0]) is None, last_first)",
    ): "all scenes of a preset are recalled by one number",
    (
        "common/overfull",
        "constant",
        'if staying and staying[0].command.message.kind == "program":',
    ): "all of them are of one kind",
    (
        "common/supply",
        "drop",
        "if unit is None or name in gone or name in seen or unit.power is None:",
    ): "a name that no unit has is an error, and then no check runs",
    ("prove", "swap", "key = (name, heard, program)"): "the key of a cache, in any order",
    (
        "set-too-long",
        "drop",
        "lengths = [_seconds(playing[id(item)]) for item in one.play if id(item) in playing]",
    ): "a song that is not there is an error, and then no check runs",
    ("flip-not-known", "constant", "at_key=True,"): _MAPPING,
    ("steps-not-known", "constant", "at_key=True,"): _MAPPING,
    ("stays-as-left", "constant", "at_key=True,"): _MAPPING,
    ("sent-in-vain", "constant", "at_key=True,"): _MAPPING,
    ("two-into-one", "constant", "at_key=True,"): "a cable ends at a name, or at a mapping's key",
    ("unreached-unit", "swap", "senders = ["): "in any order",
    ("repeat-ignored", "drop", "if left is None:"): _ALWAYS_ONE,
    ("stays-as-left", "drop", "if left is None:"): _ALWAYS_ONE,
    (
        "checks/listed",
        "swap",
        "records: list[Record] = [book.night, book.rig, book.switcher]",
    ): "they become the entries of a mapping, each with a key of its own",
    ("sent-in-vain", "swap", "for one in unknowns(compiled, Cause.BUSY, Cause.UNDONE):"): (
        "one cause of several, in any order"
    ),
    ("midi", "swap", "KINDS: tuple[Kind, ...] = ("): "the order of the table does not matter",
}
"""Room, operator (any, if empty) and line of survivors that change nothing that can be noticed.

It holds for what the operator makes of the line: `python -m tests.mutants` prints every one.
"""
