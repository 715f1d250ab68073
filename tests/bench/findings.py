"""Faults that a driver finds: counted by kind, the first of each kept as an example."""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass, field


@dataclass
class Findings:
    """Number of faults by kind, and an example of each."""

    found: Counter[str] = field(default_factory=Counter)
    examples: dict[str, str] = field(default_factory=dict)

    def fault(self, what: str, example: str) -> None:
        """Something that must not happen; the first of its kind is shown at once."""
        self.found[what] += 1
        if what not in self.examples:
            self.examples[what] = example
            print(f"{what}\n{example}", file=sys.stderr, flush=True)

    def report(self) -> int:
        """Print the faults; 1 if there are any."""
        if not self.found:
            print("nothing found")
        for what, times in self.found.most_common():
            print(f"\n{times} x {what}\n{self.examples[what]}")
        return int(bool(self.found))
