"""What a night becomes on disk: data, MIDI files, maps and sheets, all from the same records."""
