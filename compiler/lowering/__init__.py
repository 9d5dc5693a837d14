"""States → messages: on the wire, in a preset, and what makes the switcher load it."""
