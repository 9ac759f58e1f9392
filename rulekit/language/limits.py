"""What a rules file may ask of the machine at most; a stranger's ruleset can't hang it."""

MAX_BYTES = 256_000  # one rules file
MAX_FILES = 20  # files that one ruleset is made of
MAX_LINE = 1_000  # characters in one line
MAX_ITEMS = 400  # statements in one file
MAX_STATEMENT = 30_000  # characters in one statement
MAX_DEPTH = 30  # phrases within phrases
MAX_NESTED = 60  # the same, definitions written out
MAX_NODES = 4_000  # parts of one rule, definitions written out
MAX_PARTS = 20_000  # parts of all rules and definitions of a ruleset, written out
MAX_SET = 64  # values named in one set
MAX_WINDOW = 16  # places that a rule looks back, or ahead
MAX_NUMBER = 10_000  # any whole number
MAX_PROBLEMS = 100  # mistakes that are told at once
