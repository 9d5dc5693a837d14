"""Live sending: from the lowered messages of one scene to a MIDI port."""
