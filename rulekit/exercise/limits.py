"""How much is read at most, so that a wrong file is refused at once with a clear message."""

MAX_BYTES = 2_000_000
MAX_EXERCISES = 1_000
MAX_VOICES = 12
MAX_EVENTS = 5_000  # notes and rests in one exercise, all voices together
MAX_PROBLEMS = 200  # reported for one text
MAX_UNPACKED_BYTES = 20_000_000  # of a compressed score
MAX_QUARTERS = 20_000  # the length of a score in quarter notes
