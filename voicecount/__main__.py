"""``python -m voicecount``."""

import sys

from voicecount.cli import main

sys.exit(main())
