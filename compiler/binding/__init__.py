"""The rig as a target, and scenes bound to it: the state that every unit should be in."""
