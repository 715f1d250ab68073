"""The rooms of ``coach``: imports go down the flow alone, in no circle, and the pure rooms touch no edge."""

from __future__ import annotations

import ast
import re
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

HOUSE = Path(__file__).parent.parent / "coach"
ROOMS = ["roast", "forecast", "advice", "cues", "session", "verification", "logbook", "simulator", "app"]
"""From the lowest to the highest: a room imports from itself and from those before it."""
PURE = ["roast", "forecast", "advice", "cues"]
EDGES = {
    "asyncio", "io", "os", "pathlib", "random", "shutil", "socket", "sounddevice", "sqlite3", "subprocess", "tempfile",
    "textual", "threading", "time",
}  # fmt: skip
FILES = {
    ".".join(("coach", *p.relative_to(HOUSE).with_suffix("").parts)).removesuffix(".__init__"): p
    for p in sorted(HOUSE.rglob("*.py"))
}
ALLOWED_UP: set[tuple[str, str]] = set()


def imports(path: Path) -> set[str]:
    """The modules that a file imports, at its top or inside of its functions."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {m if (m := f"{node.module}.{a.name}") in FILES else node.module for a in node.names}
    return found


def room(name: str) -> str:
    parts = name.split(".")
    return parts[1] if parts[0] == "coach" and len(parts) > 1 else ""


def test_the_top_holds_the_rooms_and_little_else() -> None:
    assert {p.name for p in HOUSE.iterdir() if p.name != "__pycache__"} == {
        *ROOMS, "__init__.py", "__main__.py", "py.typed",
    }  # fmt: skip


def test_imports_go_down() -> None:
    up = {
        (name, other)
        for name, path in FILES.items()
        if room(name) in ROOMS
        for other in imports(path)
        if room(other) in ROOMS and ROOMS.index(room(other)) > ROOMS.index(room(name))
    }
    assert up == ALLOWED_UP


def test_no_circle_between_files() -> None:
    """Not even one that is closed inside of a function (the top package hands out what is deep in the house)."""
    after = {name: imports(path) & set(FILES) for name, path in FILES.items() if name != "coach"}
    TopologicalSorter(after).prepare()


@pytest.mark.parametrize("pure", PURE)
def test_a_pure_room_touches_no_edge(pure: str) -> None:
    touched = {
        (name, other)
        for name, path in FILES.items()
        if room(name) == pure
        for other in imports(path)
        if other.split(".")[0] in EDGES or other.startswith("numpy.random")
    }
    assert touched == set()


WIDGETS = {"Body", "Caution", "Foot", "PageView", "Pane", "RoastView", "Vertical"}


def attributes(c: ast.ClassDef) -> set[str]:
    """Names that a class sets on itself or begins with, beside widgets and properties; none for a dataclass, which is a
    value."""
    if any("dataclass" in ast.unparse(d) for d in c.decorator_list):
        return set()
    found = {f"self.{f.name}" for f in c.body if isinstance(f, ast.FunctionDef) and f.decorator_list}  # properties
    held = set()
    for n in ast.walk(c):
        if isinstance(n, ast.Assign | ast.AnnAssign | ast.AugAssign) and n.value is not None:
            made = {ast.unparse(x.func) for x in ast.walk(n.value) if isinstance(x, ast.Call)}
            targets = n.targets if isinstance(n, ast.Assign) else [n.target]
            for t in (x for target in targets for x in getattr(target, "elts", [target])):
                begun = n in c.body and isinstance(t, ast.Name) and not t.id.isupper()
                name = f"self.{ast.unparse(t)}" if begun else ast.unparse(t)
                if name.startswith("self.") and name[5:].isidentifier() and not made & WIDGETS:
                    held.add(name)
    return held - found


def test_no_class_of_the_screens_holds_much_and_none_anything() -> None:
    """At most eight attributes each, and no ``Any``: a class can be read by itself."""
    paths = {name: path for name, path in FILES.items() if name.startswith("coach.app.screens.")}
    trees = {name: ast.parse(path.read_text(encoding="utf-8")) for name, path in paths.items()}
    classes = [c for tree in trees.values() for c in ast.walk(tree) if isinstance(c, ast.ClassDef)]
    assert len(classes) > 40
    assert {c.name: held for c in classes if len(held := attributes(c)) > 8} == {}
    assert [n for n, tree in trees.items() if any(getattr(x, "id", "") == "Any" for x in ast.walk(tree))] == []


def test_the_life_of_a_reading_names_what_is_there() -> None:
    steps = re.findall(r"``([\w/]+\.py):([\w.]+)``", (HOUSE / "__init__.py").read_text(encoding="utf-8"))
    assert len(steps) > 10
    for file, name in steps:
        tree = ast.parse((HOUSE / file).read_text(encoding="utf-8"))
        named = {n.name for n in ast.walk(tree) if isinstance(n, ast.FunctionDef | ast.ClassDef)}
        assert set(name.split(".")) <= named, f"{file}: {name}"
