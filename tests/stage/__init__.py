"""Whole nights drawn at random, played on a simulated stage, and judged from outside.

``draw`` writes books, ``asks`` says what each scene has to bring, ``boxes``, ``wires``, ``board``
and ``path`` are the stage: they take what the compiler prints (presets, cue sheet, MIDI messages)
and know nothing of how it was made. ``judge`` compares. ``python -m tests.stage`` prints figures.
"""
