"""The finished roasts: lists, results, reviews, trends, plans.

Journals are the truth. `logbook/index/index` derives one `Summary` row per journal into sqlite in this machine's
cache, and can be deleted at any time; raise `index.SCHEMA` when `Summary` changes. Pages for the browser are rendered
by `text/html`, and nothing is fetched or run. A new chart is a row in `trend.QUANTITIES` and a column of `Summary`;
recompute `RUNNING_WIDTHS` when a chart is added or `WEIGHT` or `FALSE_SIGNALS` changes. Browser tests skip without
Chromium.

Pages are plain lines: a `*_text` or `*_plots` module gives them for a width, the command prints them,
`screens/reader` shows them (`--screen`), and `screens/asides` puts them beside the roast in the place of help or
brief; a mark typed over one is taken. Slow results lie in `learning/cache.ResultCache` in this machine's cache, can
be deleted at any time, and are keyed by all their inputs (journal, profile with the person's settings, earlier
roasts, program): `learning/lessons` holds the evidence of roasts and the check that learning pays,
`learning/replays.Replays` the knowledge of a roast's coach, its cues, forecasts and advice. Every command asks these
two, so all agree, and no roast is replayed twice. `session/issued_forecasts` keeps the forecasts in force in each
second, outside the fold; `LiveRoast.close` puts them beside what happened and beside the cues in `NAME.record.json`
(`verification/roast_record`), with the digest of the program that issued them and of the journal. `coach accuracy`
reports the issued forecasts where these digests hold, and else recomputes them with this program from the 20 roasts
before (`--recompute`: all of them). A roast read back from its journal records none. `provenance.program` is a digest
of all rooms but the edges, so a change of screen or command leaves cached results valid. 20 s after the drop
`Desk.ended` computes the knowledge for the next roast in a daemon thread. `verification/reference_forecasts` holds
the forecasts that a person could make without the coach, `logbook/learning/learnt_text` the evidence in words;
`learn=no` in a result leaves a roast out. `lessons.learnt` is the one way from earlier roasts to knowledge,
for the roast, the report and the hand-over; `hindcast.renewed` keeps hindcasts on the seconds of the session.

Sheets come in through `sheets/sheet_file` (bytes), `sheets/read_sheet` (cells), `sheets/columns` (which column is
what, in which unit, and what must be asked) and `sheets/imported` (entries, as if typed). `sheets/cells` reads one way
of writing each; decimal minutes and m.ss are told apart by their steps. `sheets/checks` knows what a bean probe does:
falls from charge, turns below 140 °C before 3:30, climbs over 60 K, ends with the drop; common practice, wide on
purpose. `index/results` holds the rules for results, from command or screen. Long work is reported by
`printing.progress` (counts) or `printing.patience` (none), nowhere else.

On a quiet machine (`bench_logbook.py`, load under 2): 10,000 roasts indexed in 4.7 s, listed in 0.24 s; of 500 roasts
of one profile the trend in 0.7 s, the accuracy of forecasts in 1.0 s where all is recorded or cached. A roast without
a record costs some 0.5 s of processor the first time, since it is asked for each whether learning paid when it began
(24 of them: 10 s, load 13), and its replay for cues and advice 2 to 3 s.
"""
