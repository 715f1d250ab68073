"""The simulated roaster, its operator, drills and the score of a rehearsal.

Roaster and person are apart: `physics` (state equations), `machine`, `beans`, `roaster` (one batch after another on a
one-second grid; `batch` runs many at once) and `person` (reads dials, follows a recipe, has habits; knows nothing of
the beans except that yellow and crack are called some time after they truly came).  The roaster keeps every act,
so that a charge or drop that is withdrawn or reported late is undone by a new one that repeats the rest.
`rehearsal/`: `rehearsal.Rehearsal` is the screen's source: it hears entries and shows dials.  A drill (`model`: its
TOML) is injected by seed (`inject`, which also holds the truth); `score` is a pure function of entries, truth, drill
and the cues as the review judges them; `judged` puts score, cues and reveal into words, `history` has three stages.
A new drill is a TOML file beside those shipped.  A safety drill is about stopping alone, and its texts name whose plan
counts.
`fit` makes a machine from journals, or one that follows a profile of an unknown roaster.  Score weights and stages are
our own.
"""
