"""``python -m evpack.cli``."""

import sys

from evpack.cli import main

if __name__ == "__main__":
    sys.exit(main())
