"""Counterpoint rules written once, in words a musician reads."""
