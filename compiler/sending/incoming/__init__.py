"""What comes in: bytes as messages, messages as presses, and what they mean."""
