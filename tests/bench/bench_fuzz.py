"""The parsers under a coverage-guided fuzzer: python tests/bench/bench_fuzz.py [COUNT [PARSER ...]]

Needs atheris, which is no dependency of the coach or of its tests: python -m pip install -e ".[test,fuzz]".  Each
parser runs in a process of its own, with the coach instrumented, from a corpus drawn by tests/faults/inputs.py and with
its odd pieces as a dictionary; COUNT (1,000,000) inputs are shared out over all parsers.  An input is at fault when the
parser neither takes it nor refuses it with an error in clean words (see ``inputs.fault``).  Printed for each parser:
inputs given, faults, how many were taken, edges of the code reached, the slowest input by processor time, and memory.
COACH_BENCH_SEED gives another course (1).
"""

from __future__ import annotations

import importlib.util
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parents[2]))
sys.path.insert(0, str(Path(__file__).parents[1] / "faults"))

SHARES = {"typed line": 0.45, "journal line": 0.35, "journal": 0.07, "profile": 0.07, "sheet": 0.06}
LONGEST = {"typed line": 250, "journal line": 1500, "journal": 4000, "profile": 3000, "sheet": 3000}
"""Bytes of an input: the bombs of bench_faults.py see to the large ones."""
CORPUS = 300


def peak() -> float:
    """Greatest memory of this process so far, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def one(name: str, count: int, seed: int, folder: Path) -> None:
    """Fuzz one parser in this process; prints its line when ``count`` inputs were given, and ends the process."""
    import atheris

    with atheris.instrument_imports(include=["coach"]):
        from inputs import LINES, ODD, PROFILE, SHEET, fault, mutated, parsers

        from coach.roast.errors import CoachError
    parser, rng = parsers(folder)[name], Random(f"{name} {seed}")
    corpus, words = folder / "corpus", folder / "words"
    corpus.mkdir()
    whole = {
        "typed line": [b"198", b"164@6:20", b"164 -10", b"first crack", b"gas 1.3", b"/note", b"drop -5"],
        "journal line": [x.encode() for x in LINES],
        "journal": ["\n".join(LINES[:n]).encode() + b"\n" for n in (2, 9, 15)],
        "profile": [PROFILE],
        "sheet": [SHEET],
    }[name]
    for n, data in enumerate([*whole, *(parser.draw(rng) for _ in range(CORPUS))]):
        (corpus / f"{n}").write_bytes(data[: LONGEST[name]])
    pieces = ["".join(f"\\x{b:02x}" for b in o.encode("utf-8", "surrogatepass")[:60]) for o in ODD]
    words.write_text("".join(f'"{p}"\n' for p in pieces if p))
    said: Counter[str] = Counter()
    done, taken, slowest, worst, before, began = 0, 0, 0.0, b"", peak(), time.process_time()

    def test(data: bytes) -> None:
        nonlocal done, taken, slowest, worst, before
        start = time.thread_time()
        wrong = fault(parser, data)
        took = time.thread_time() - start
        done += 1
        if done == CORPUS:
            before = peak()  # the fuzzer's own tables are there by now
        if took > slowest:
            slowest, worst = took, data
        if wrong:
            said[wrong[:100]] += 1
            (folder.parent / f"fault-{name.replace(' ', '-')}-{len(said)}").write_bytes(data)
        elif done % 20 == 0:
            try:
                parser.call(data)
                taken += 1
            except CoachError:
                pass
        if done >= count:
            print(
                f"{name:13} {done:8d} inputs  {sum(said.values())} faults  about {20 * taken / done:.0%} taken  "
                f"{time.process_time() - began:6.0f} s  slowest {1000 * slowest:6.1f} ms ({worst[:30]!r}…)  "
                f"memory +{peak() - before:.0f} MB (peak {peak():.0f})",
                flush=True,
            )
            for wrong, times in said.most_common(8):
                print(f"    {times} x {wrong}", flush=True)
            os._exit(int(bool(said)))

    def mutate(data: bytes, most: int, number: int) -> bytes:
        """The fuzzer's own way half of the time, else that of the drawn inputs, which knows the formats."""
        by = Random(number)
        how = by.random()
        if how < 0.5:
            return bytes(atheris.Mutate(data, most))
        return (mutated(data, by, 2) if how < 0.85 else parser.draw(by))[:most]

    options = [f"-seed={seed}", f"-max_len={LONGEST[name]}", "-timeout=10", f"-dict={words}", "-rss_limit_mb=1500"]
    atheris.Setup([sys.argv[0], str(corpus), *options], test, custom_mutator=mutate)
    atheris.Fuzz()


def main(argv: list[str]) -> int:
    """Each parser in a process of its own; 1 if any input was at fault."""
    if importlib.util.find_spec("atheris") is None:
        print('atheris is not installed: python -m pip install -e ".[test,fuzz]"', file=sys.stderr)
        return 2
    seed = int(os.environ.get("COACH_BENCH_SEED", "1"))
    if len(argv) == 4 and argv[0] == "one":
        one(argv[1], int(argv[2]), seed, Path(argv[3]))
        return 1  # it ends by itself
    count = next((int(a) for a in argv if a.isdigit()), 1_000_000)
    asked = [a for a in argv if a in SHARES] or list(SHARES)
    whole, wrong = sum(SHARES[a] for a in asked), 0
    print(f"Python {sys.version.split()[0]}, seed {seed}, load of the machine (1 min) {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory(prefix="fuzz-") as place:
        for name in asked:
            folder = Path(place) / name.replace(" ", "-")
            folder.mkdir()
            number = str(round(count * SHARES[name] / whole))
            run = subprocess.run(
                [sys.executable, __file__, "one", name, number, str(folder)],
                capture_output=True,
                text=True,
                check=False,
            )
            reached = re.findall(r"cov: (\d+) ft: (\d+) corp: (\d+)", run.stderr)
            print(run.stdout.rstrip() or f"{name}: ended by itself\n{run.stderr[-1500:]}", flush=True)
            if reached:
                print(
                    f"{'':13} edges reached {reached[0][0]} by the first inputs, {reached[-1][0]} in the end; "
                    f"{reached[-1][2]} inputs kept for what they reach",
                    flush=True,
                )
            wrong += run.returncode != 0
            for path in sorted(Path(place).glob("fault-*")):
                print(f"    {path.name}: {path.read_bytes()[:300]!r}")
                path.unlink()
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
