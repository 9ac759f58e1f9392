"""What the exit status of a command says, and how its end is told."""

import sys
from pathlib import Path

GOOD, FAULTS, UNUSABLE, MISTAKEN = 0, 1, 2, 3
INTERRUPTED, PIPE_CLOSED = 130, 141  # as a shell tells it: 128 and the signal


def mistake_words(error: BaseException) -> str:
    """What to say of an error that is the program's own, with the file that its details were written to."""
    import tempfile
    import traceback

    kind = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
    said = f"this is a mistake of the program’s, not of yours ({kind[:200]})"
    try:
        with tempfile.NamedTemporaryFile("w", prefix="rulekit-", suffix=".txt", delete=False, encoding="utf-8") as file:
            file.write(f"rulekit {' '.join(sys.argv[1:])}\nPython {sys.version}\n\n")
            file.writelines(traceback.format_exception(error))
    except OSError:
        place = traceback.extract_tb(error.__traceback__)[-1]
        return f"{said}; please report it, with “{Path(place.filename).name}, line {place.lineno}”"
    return f"{said}; please report it, with the file {file.name}"
