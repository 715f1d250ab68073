"""The Textual screens: they show what the core says and send what is typed.

Pure renderers make every pane of a roast from a `Situation`: `act` (the one thing to do, how urgent), `roast_panes`
(band, figures, ranges, lists), `roast_pictures` on `picture` (off-plan strip, curve, lanes), `glance`; `roast_view`
lays them out by the room there is. Colours are in `palette` alone, four themes. `program` is the base of all full
screens. `RoastApp` has a `BriefScreen`, then a `RoastScreen`, and a `PageScreen` over either. Parts without a screen do
the work: `Opening` opens a roast, `Choosing` takes the keys before it, `Roasting` is the roast that runs, with its
`EntryLine`, its `Source`, its `Sounding`, and `Turns` for work in parts and in threads. The brief is painted before
anything is imported that it doesn't show, numpy among it; what works in a roast follows (`after_first_paint`). `Desk`
finds the unfinished roasts (nothing begins before), learns and gathers the hand-over in a thread. Panes repaint only
what changed. A source is any `Source`.
`act.logged` is what the key for a made move logs: the moves that the band shows, so that both can't differ.
A `Board` shows a `Listing`, whose lines are commands: home, logbook, trend, drills, progress, score. It is left,
the command runs as if it had been typed, and `show_board` shows it again. Home is painted from names alone; the
profiles and the logbook follow in a thread.
Snapshots use hand-made situations (`tests/app/screens/still.py`), so forecasts don't move them; renew with
`COACH_SNAPSHOTS=write`.

`EntryLine` is a state machine without a screen: `press` and `paste` give an `Outcome` with the entries to log, each
checked against the roast, and the screen shows `shown` and `message`. A second Backspace withdraws an entry only
while the message with its name is on the screen. `evidence.drop_due` is the one drop
time: the forecast until first crack, then the profile's rule; a crack called from taps counts until its key comes
(`Coach._assumed`). `bench_hostile.py` presses random keys on the real screen and compares file and painted screen.
"""
