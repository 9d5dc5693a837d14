"""What the messages do: who hears them, and what is certain afterwards."""
