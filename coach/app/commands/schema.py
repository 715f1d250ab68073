"""``coach schema profile|journal``: the JSON Schema of a file format, made from the models that check it."""

from __future__ import annotations

import argparse
from typing import Any

from pydantic import TypeAdapter

from coach.app.printing import print_json
from coach.roast.entries import AnyEntry, Header
from coach.roast.profile import ProfileDocument


def run(args: argparse.Namespace) -> int:
    """Print it."""
    print_json(schema(args.what))
    return 0


def schema(what: str) -> dict[str, Any]:
    """The schema (draft 2020-12) of a whole profile, or of one line of a journal: its header or an entry."""
    if what == "profile":
        out = ProfileDocument.model_json_schema(mode="validation")
        title, note = "coach profile", "A profile; in its file it is TOML."
    else:
        either: TypeAdapter[Any] = TypeAdapter(Header | AnyEntry)
        out = either.json_schema(mode="validation")
        title, note = "coach journal line", "One line of a journal: the first is the header, each further one an entry."
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **out, "title": title, "description": note}
