"""Docstrings that begin with a verb or a noun phrase: the thing itself, not a question about it."""

from __future__ import annotations

import ast
import re
from pathlib import Path

HOUSE = Path(__file__).parent.parent / "coach"
QUESTION = re.compile(r"\s*(?:What|How|Whether|When|Where|Which|Why|Who|Whose)\b")


def questions(source: str) -> list[tuple[str, str]]:
    """Name and text of each docstring, of a module, class, function or attribute, that begins with a question word."""
    found: list[tuple[str, str]] = []
    for node in ast.walk(ast.parse(source)):
        body = getattr(node, "body", None)
        for part in body if isinstance(body, list) else []:
            if isinstance(part, ast.Expr) and isinstance(part.value, ast.Constant):
                text = part.value.value
                if isinstance(text, str) and QUESTION.match(text):
                    found.append((getattr(node, "name", "the module"), text))
    return found


def test_docstrings_begin_with_a_verb_or_a_noun_phrase() -> None:
    files = sorted(HOUSE.rglob("*.py"))
    assert len(files) > 100
    found = [(p, *q) for p in files for q in questions(p.read_text(encoding="utf-8"))]
    assert [f"{p.relative_to(HOUSE)}, {name}: {text}" for p, name, text in found] == []


def test_each_kind_of_docstring_is_seen() -> None:
    source = '''
"""What a module does."""
LIMIT = 3.0
"""How far it goes, s."""
class Thing:
    """When it comes."""
    size: float
    """Length, m; what else is there is not."""
    def done(self):
        """
        Whether it is over."""
        self.left = 1
        """Which are left."""
        return "Why"
'''
    assert {text.split()[0] for _, text in questions(source)} == {"What", "How", "When", "Whether", "Which"}


def test_no_class_and_no_module_has_the_name_of_another() -> None:
    """Commands alone are named as what they command."""
    names: dict[str, list[str]] = {}
    for path in sorted(HOUSE.rglob("*.py")):
        if path.stem not in ("__init__", "__main__") and path.parent.name != "commands":
            names.setdefault(path.stem, []).append(str(path.relative_to(HOUSE)))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                names.setdefault(node.name, []).append(str(path.relative_to(HOUSE)))
    assert {name: where for name, where in names.items() if len(where) > 1} == {}
