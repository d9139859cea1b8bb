"""``python -m boostproof``: the same as the command ``boostproof``."""

import sys

from boostproof.cli import main

if __name__ == "__main__":
    sys.exit(main())
