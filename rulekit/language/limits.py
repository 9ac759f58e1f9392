"""What a rules file may ask of the machine at most; a stranger's ruleset can't hang it."""

MAX_BYTES = 256_000  # one rules file
MAX_FILES = 20  # files that one ruleset is made of
MAX_ITEMS = 400  # statements in one file
MAX_DEPTH = 30  # phrases within phrases
MAX_NODES = 4_000  # parts of one rule, definitions written out
MAX_SET = 64  # values named in one set
MAX_WINDOW = 16  # places that a rule looks back, or ahead
MAX_NUMBER = 10_000  # any whole number
