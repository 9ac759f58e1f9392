"""One table of all that is measured: ``python -m tests.benchmarks [WORD …]``, with words only the rows that have them.

Seconds are those of the processor, memory is what the process grew by. Ratios hold from one machine to another; the
seconds that are wanted are those of one core of a few years ago.
"""

import sys

from tests.benchmarks.table import run

if __name__ == "__main__":
    sys.exit(run(sys.argv[1:]))
