"""How much is read at most: a wrong file is refused at once with a clear message, and none can hang the machine.

These counts, looked at before a file is read and while it is, keep every file that is known under 10 s and 500 MB (the
worst are in ``WORST`` in ``tests/exercise/test_hostile.py``); whatever else may come is ended by the clock.
"""

MAX_SECONDS = 10.0  # of work for reading one file, and for marking and printing all its exercises

MAX_BYTES = 1_000_000  # of a text
MAX_LINES = 100_000  # of it
MAX_SCORE_BYTES = 5_000_000  # of a file, and of a compressed score when it is unpacked
MAX_ELEMENTS = 150_000  # of an XML score
MAX_DEPTH = 60  # of its nesting
MAX_EXERCISES = 1_000
MAX_VOICES = 12
MAX_PARTS = 60  # of a score, most of them silent
MAX_EVENTS = 5_000  # notes and rests in one exercise, all voices together
MAX_ITEMS = 30_000  # notes and rests in one score
MAX_BARS = 3_000
MAX_BEATS = 32  # in a bar
MAX_PROBLEMS = 200  # reported for one text
MAX_NOTE = 64  # quarter notes in one note, tied notes apart; a dotted maxima has 48
MAX_QUARTERS = 20_000  # the length of a score in quarter notes
MAX_DIVISION = 100_000  # the smallest part of a quarter note that a time may be counted in
