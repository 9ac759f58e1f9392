"""Exercises: the score as data, the typed notation, and scores read from files."""
