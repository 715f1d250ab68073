"""``python -m coach``."""

import sys

from coach.app.cli import main

sys.exit(main())
