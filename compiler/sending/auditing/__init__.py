"""An audit of what the switcher holds, by listening."""
