"""Entry of ``python -m models_fetch``."""

import sys

from models_fetch.command import main

if __name__ == "__main__":
    sys.exit(main())
