"""``python -m coach``."""

import sys

from coach.cli import main

sys.exit(main())
