"""``python -m coach``, and the program ``coach``."""

import gc
import os
import signal
import sys

if signal.getsignal(signal.SIGINT) is signal.default_int_handler:  # Ctrl-C while all is loaded: end without a word
    signal.signal(signal.SIGINT, signal.SIG_DFL)

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # read as numpy loads: matrices this small only make threads spin

from coach.app.cli import main


def program() -> int:
    """Run the command line; Ctrl-C is a KeyboardInterrupt while a command runs, and ends the program at once before
    and after it."""
    gc.set_threshold(5_000)  # little of what is loaded is ever garbage: looked for oftener, a tenth of the start
    heeded = signal.getsignal(signal.SIGINT) is signal.SIG_DFL
    try:
        if heeded:
            signal.signal(signal.SIGINT, signal.default_int_handler)
        return main()
    except KeyboardInterrupt:
        return 130
    finally:
        if heeded:
            signal.signal(signal.SIGINT, signal.SIG_DFL)


if __name__ == "__main__":
    sys.exit(program())
