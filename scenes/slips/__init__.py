"""Slips of writing in words: what reading a book can find, room by room."""
