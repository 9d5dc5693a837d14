"""What the rig gets: scenes bound to a rig, and the commands."""
