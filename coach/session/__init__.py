"""One roast as it runs, and its journal on disk.

Every entry has `at` and `typed`. The coach is fed by `typed` and folds by `at`: a late or corrected entry folds
again from its place (`coach._refold`). What has been heard (`watch.Heard`) lives outside the fold. `Folded` keeps
the active entries and their roast; `roast.fold` stays the definition. A screen takes an entry with `most=1` and goes
on with `catch_up` in parts: the entry is painted first, the cues shown are those from before, nothing sounds until all
is folded, and the result is that of folding at once.
"""
