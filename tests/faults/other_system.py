"""Runs coach as on a system without POSIX: ``python tests/faults/other_system.py [--press KEYS] COMMAND ...``.

With keys to press (``tab,ctrl+q``) it runs on a screen without a terminal.  Without a command every module is
imported.

The libraries are loaded first: what they do on other systems is their business.  From then on the POSIX modules can't
be imported, names that only POSIX systems have are gone from ``signal`` and ``time``, those of ``os`` are refused to
the coach's own modules, and folders can't be opened (as on Windows, where ``os.open`` of a folder is refused).
"""

from __future__ import annotations

import importlib
import importlib.abc
import os
import pkgutil
import signal
import sys
import time
from collections.abc import Sequence
from importlib.machinery import ModuleSpec
from types import ModuleType
from typing import Any, Final

MODULES: Final = {"fcntl", "termios", "pwd", "grp", "resource", "tty", "pty", "syslog", "posix"}
OF_OS: Final = (
    "fork", "forkpty", "getegid", "geteuid", "getgid", "getpgid", "getpgrp", "getuid", "getloadavg", "killpg",
    "chown", "fchmod", "fchown", "lchown", "mkfifo", "mknod", "nice", "openpty", "pathconf", "fpathconf",
    "setsid", "statvfs", "fstatvfs", "sync", "fdatasync", "sysconf", "uname", "wait3", "wait4",
    "set_blocking", "get_blocking", "posix_fadvise", "posix_fallocate", "pread", "pwrite", "readv", "writev",
    "sched_getaffinity",
)  # fmt: skip
OF_SIGNAL: Final = (
    "SIGHUP", "SIGALRM", "SIGUSR1", "SIGUSR2", "SIGCHLD", "SIGTTOU", "SIGTTIN", "SIGTSTP", "SIGCONT",
    "SIGKILL", "SIGWINCH", "SIGQUIT", "pause",
)  # fmt: skip
OF_TIME: Final = ("CLOCK_BOOTTIME", "CLOCK_MONOTONIC", "clock_gettime", "tzset")
LIBRARIES: Final = (
    "asyncio", "concurrent.futures", "ctypes", "email", "importlib.resources", "multiprocessing",
    "numpy", "matplotlib.figure", "platformdirs", "pydantic", "scipy.integrate", "scipy.interpolate",
    "scipy.linalg", "scipy.optimize", "scipy.special", "scipy.stats", "shutil", "sounddevice", "sqlite3",
    "subprocess", "tempfile", "textual.app", "textual.widgets", "textual.drivers.headless_driver",
    "textual.drivers.linux_driver", "tomlkit", "webbrowser",
)  # fmt: skip


class Blocked(importlib.abc.MetaPathFinder):
    """Finds no module that only POSIX systems have."""

    def find_spec(self, name: str, path: Sequence[str] | None, target: ModuleType | None = None) -> ModuleSpec | None:
        if name in MODULES:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
        return None


def block() -> None:
    """From here on this is no POSIX system to the coach."""
    for name in LIBRARIES:
        try:
            importlib.import_module(name)
        except (ImportError, OSError):  # no sound library on this machine
            if name != "sounddevice":
                raise
    for name in MODULES:
        sys.modules.pop(name, None)
    sys.meta_path.insert(0, Blocked())
    for module, names in ((signal, OF_SIGNAL), (time, OF_TIME)):
        for name in names:
            if hasattr(module, name):
                delattr(module, name)
    for name in OF_OS:
        if hasattr(os, name):
            setattr(os, name, refused(name, getattr(os, name)))
    real = os.open

    def no_folders(path: Any, flags: int, *more: Any, **how: Any) -> int:
        if of_coach() and os.path.isdir(path):
            raise PermissionError(13, "Permission denied", path)
        return real(path, flags, *more, **how)

    os.open = no_folders  # type: ignore[assignment]


def of_coach() -> bool:
    """Whether the function that asks was called by a module of the coach."""
    return str(sys._getframe(2).f_globals.get("__name__", "")).startswith("coach")


def refused(name: str, real: Any) -> Any:
    """A function of ``os`` that the coach does not find."""

    def call(*args: Any, **how: Any) -> Any:
        if of_coach():
            raise AttributeError(f"module 'os' has no attribute {name!r}")
        return real(*args, **how)

    return call


def main(argv: list[str]) -> int:
    """Import every module, or run a command."""
    if argv[:1] == ["--press"]:
        os.environ.update(TEXTUAL_PRESS=argv[1], TEXTUAL_DRIVER="textual.drivers.headless_driver:HeadlessDriver")
        for stream in (sys.stdin, sys.stdout, sys.stderr):
            stream.isatty = lambda: True  # type: ignore[method-assign]
        os.environ["TERM"] = "xterm"
        argv = argv[2:]
    block()
    if argv or "TEXTUAL_PRESS" in os.environ:
        from coach.app.cli import main as coach

        return coach(argv)
    import coach

    names = [m.name for m in pkgutil.walk_packages(coach.__path__, "coach.") if m.name != "coach.__main__"]
    for name in names:
        importlib.import_module(name)
    importlib.import_module("coach.__main__")
    print(len(names))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
