"""The formats that exercises are read from and written in: one module for each, and this registry of them."""

from rulekit.exercise.formats import abc, kern, mei, midi, musicxml, notes
from rulekit.exercise.reading import Format

FORMATS: tuple[Format, ...] = (
    notes.FORMAT,
    musicxml.FORMAT,
    musicxml.COMPRESSED,
    mei.FORMAT,
    kern.FORMAT,
    abc.FORMAT,
    midi.FORMAT,
)
