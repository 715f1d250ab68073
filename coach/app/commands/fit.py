"""``coach fit``: a simulated machine fitted to one's own roasts, so that rehearsals feel like one's own."""

from __future__ import annotations

import argparse
import re
from typing import Final

from coach.app.commands import check, tell
from coach.app.printing import in_words, patience
from coach.logbook.text.text_table import signed
from coach.roast.errors import CoachError
from coach.session.folders import file_stem, own_path
from coach.session.journal_folder import roasts
from coach.session.profile_files import home, logbook_folder, save_text, toml_text
from coach.simulator.beans import Beans, load_beans
from coach.simulator.fit import FACTORS, FEWEST, FitSheet, fit_machine, fitting_ranges, lot_of, plan_of, rmse, sheet_of
from coach.simulator.machine import Machine, load_machine, machine_names

NEWEST: Final = 24
"""Number of the newest roasts that are fitted."""


def run(args: argparse.Namespace) -> int:
    """Fit, print the residuals, write machine and lot."""
    check("--batch", args.batch, "Give kilograms.", 0.001, 100)
    folder = logbook_folder(args.logbook)
    wanted = [e.roast for e in roasts(folder) if args.of.lower() in e.header.machine.lower()][-NEWEST:]
    names = sorted({r.header.machine for r in wanted if r.header.machine})
    if len(names) > 1:
        raise CoachError("These roasts are of several machines: " + ", ".join(names)[:200] + ".", "Choose with --of.")
    found = [(r.header.id, sheet_of(r, batch_kg=args.batch, air=args.air)) for r in wanted]
    sheets = [s for _, s in found if not isinstance(s, str)]
    skipped = [f"{i}: {s}" for i, s in found if isinstance(s, str)]
    for text in skipped:
        in_words(args.json)(f"left out: {text}")
    if len(sheets) < FEWEST + 1:
        raise CoachError(
            f"{len(sheets)} roasts can be used; it takes {FEWEST + 1} at least.",
            "Log the gas and the air at the charge, and a reading just before it.",
        )
    like, beans = _start(max(s.batch_kg for s in sheets))
    name = names[0] if names else args.of or "My roaster"
    return _fit(args, fitting_ranges(like, sheets), beans, sheets, name, skipped)


def _start(batch: float) -> tuple[Machine, Beans]:
    """The smallest shipped machine that takes a batch (kg), and its lot."""
    fitting = [m for m in map(load_machine, machine_names()) if batch <= 1.1 * m.capacity_kg]
    if not fitting:
        raise CoachError(f"No simulated machine takes {batch:g} kg.", "The largest is 15 kg.")
    machine = min(fitting, key=lambda m: m.capacity_kg)
    return machine, load_beans(machine.demo_plan.beans)


def _fit(
    args: argparse.Namespace, like: Machine, beans: Beans, sheets: list[FitSheet], name: str, skipped: list[str]
) -> int:
    """Fit, print how well it fits, write machine and lot."""
    held = max(1, len(sheets) // 4)
    with patience("fitting, a minute or so"):
        first = fit_machine(like, beans, sheets[:-held])
        out, before = (rmse(m, beans, sheets[-held:], first.offset) for m in (first.machine, like))
        fit = fit_machine(like, beans, sheets, first)
    lines = [
        f"fitted to {len(sheets)} roasts, like {like.name}:",
        *(f"  {part} {value.replace('_', ' '):10} x {fit.factors[value]:.2f}" for part, value, _ in FACTORS),
        f"  drum metal at charge {signed(fit.offset, 0)} °C against the reading",
        f"  readings it was fitted to:  {fit.rmse:.1f} °C root mean square",
        f"  the newest {held} held out:    {out:.1f} °C (unfitted machine {before:.1f} °C)",
        "  Heat and jacket can trade places: trust the curve more than the single factors.",
    ]
    if out > 6.4:
        lines.append(
            "  Over 6.4 °C held out (as good as published models get): don't rehearse your own roaster with this."
        )
    path = own_path(args.output) if args.output else home() / "machines" / f"{file_stem(name, 'machine')}.toml"
    lot = path.with_name(f"{path.stem}-beans.toml")
    machine = plan_of(fit, sheets, beans=lot.name).model_copy(
        update={"name": name, "maker": "fitted", "note": f"fitted to {len(sheets)} roasts, like {like.name}"}
    )
    save_text(path, toml_text(machine.model_dump(mode="json")), overwrite=args.overwrite)
    save_text(lot, toml_text(lot_of(fit).model_dump(mode="json")), overwrite=args.overwrite)
    shown = re.sub(r"\s", "\\ ", str(path))
    lines += [f"machine: {path}", f"lot: {lot}", f"rehearse it:  coach rehearse PROFILE --machine {shown}"]
    values = {
        "machine": path, "lot": lot, "roasts": len(sheets), "left_out": skipped, "like": like.name,
        "factors": fit.factors, "offset_k": fit.offset, "rmse_k": fit.rmse,
        "held_out": {"roasts": held, "rmse_k": out, "unfitted_rmse_k": before},
    }  # fmt: skip
    return tell(args, values, lines)
