"""``python -m rulekit``."""

import sys

from rulekit.cli import main

if __name__ == "__main__":
    sys.exit(main())
