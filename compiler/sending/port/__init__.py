"""Ports: found, opened, played in time, listened to, and looked after."""
