"""``coach sounds``: play each sound with its name and its cues, and print the way out of sounds."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from time import sleep

from coach.app.printing import print_json
from coach.app.sound.speaker import Speaker
from coach.cues.table import CUES, SOUNDS
from coach.cues.tones import PATTERNS, Sound, describe
from coach.roast.errors import CoachError
from coach.session.folders import note_sounds_heard

WAIT = 5.0
"""Longest wait for the device, s."""
PAUSE = 0.8
"""Silence after each sound, s."""


def run(args: argparse.Namespace) -> int:
    """Play and print."""
    wanted = list(chosen(args.name))
    if not wanted:
        raise CoachError(f"No cue or sound is called '{args.name[:40]}'.", "coach cues lists the cues.")
    if args.json:
        print_json([{"sound": s, "pattern": "" if s == "none" else describe(s), "cues": cues} for s, cues in wanted])
        return 0
    speaker = Speaker(ring if sys.stdout.isatty() else None)
    try:
        speaker.ready(WAIT)
        known = speaker.trouble if speaker.status.why else ""  # its text says that already
        print(f"Sounds go out through: {speaker.status.text}", flush=True)
        for sound, cues in wanted:
            play(speaker, sound, cues, silent=args.silent)
        if speaker.trouble not in ("", known):
            print(speaker.trouble)
        if not args.silent and not args.name and sys.stdout.isatty():  # the bell, too, is what will be heard here
            note_sounds_heard()
    finally:
        speaker.close()
    return 0


def chosen(name: str) -> Iterator[tuple[str, list[str]]]:
    """The requested sounds, each with the cues it stands for; all for ''."""
    for sound in SOUNDS:
        cues = [c.name for c in CUES.values() if c.sound == sound]
        if sound != "none" and (not name or name == sound):
            yield sound, cues
        elif name in cues:
            yield sound, [name]


def play(speaker: Speaker, sound: str, cues: list[str], *, silent: bool) -> None:
    """Print one sound's name, words and cues, and play it."""
    if sound == "none":
        print(f"\nsilent, shown only: {', '.join(cues)}", flush=True)
        return
    print(f"\n{sound}: {describe(sound)}\n  {', '.join(cues)}", flush=True)
    if not silent:
        speaker.play(sound)
        sleep(PATTERNS[Sound(sound)].duration + PAUSE)


def ring() -> None:
    """Ring the terminal's bell."""
    sys.stdout.write("\a")
    sys.stdout.flush()
