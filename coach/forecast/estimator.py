"""The filtered probe: the bank of filters run over a roast's readings and moves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import exprel

from coach.forecast.bank import D0_SD, E0_SD, GAIN, GAIN_SD, Bank
from coach.forecast.control_inputs import Schedule
from coach.forecast.forecast_values import READ_BEFORE, Estimate
from coach.forecast.kalman import gain, innovation, predict, update_any
from coach.forecast.unlogged_moves import Steps
from coach.roast.curve import Curve
from coach.roast.roast import Probe

Array = NDArray[np.float64]

LOWEST: Final = -20.0
HIGHEST: Final = 320.0
"""Range of a roast's probe temperatures, °C; readings outside are none."""
GATE: Final = 4.5
"""A reading this many standard deviations off is rejected and asked about."""
SOFT: Final = 2.2
"""Standard deviations beyond which a reading counts less (heavy tails)."""
AGREE: Final = 3.0
"""Two doubtful readings in a row that agree this well with each other (K, plus what the slope allows) are believed."""
TEMPER: Final = 0.6
"""Power of the likelihood in the members' weights: the model is not the roaster."""
DELAY_SD: Final = 1.6
"""Standard deviation of the time of a reading that is typed as shown, s."""
TURN_SD: Final = 0.3
"""Standard deviation of the time of a turn, s: the reaction's scatter, about 0.1 s, and the display's refresh of half a
second, evenly spread (0.14 s), doubled, for hands are busy."""
TURN_DELAY: Final = 0.5
"""Delay from a turn to its key, s: simple reactions to what is seen take 0.2 to 0.3 s (Luce, Response
Times, 1986; 0.24 s by the cycles of Card, Moran and Newell, The Psychology of Human-Computer Interaction, 1983), and
half of the display's refresh comes before them."""
TURN_SIGMA: Final = 0.25
"""Scatter of a dial at a turn beside its step, K."""
WRONG_TURN: Final = 0.02
"""Probability that a key pressed at a turn was meant for a neighbouring step of the dial (half above, half below)."""
STANDS: Final = 0.02
"""Rate of the reference (K/s) below which a turn may be one up or one down."""
TURN_DOUBT: Final = 4.0
"""Until the turning point the reference itself, drawn through a few readings, is this uncertain (K)."""
TURN_FADES: Final = 45.0
"""Time constant with which that doubt fades after the turning point, s."""
EARLY_ENDS: Final = 160.0
EARLY_FADES: Final = 8.0
"""Temperature at which the reference leaves drying (°C), and the width of the change (K), for k(t)."""
K_CRACKED: Final = -0.002
"""Added to k by the crack, 1/s: from then on a hotter roast releases more heat of its own."""
CRACK_FADES: Final = 10.0
"""Width of the logistic with which it comes in, s."""
CLIMB: Final = 90.0
"""Span of the rate of rise on which the crack's level depends, s: beans remember about as long."""
PRESSED: Final = np.array([1.0 - WRONG_TURN, WRONG_TURN / 2, WRONG_TURN / 2])
"""Probabilities that a press at a turn was right, or meant for the step above or below."""
H: Final = np.array([1.0, 0.0, 0.0, 0.0, 0.0])


@dataclass(frozen=True)
class Model:
    """A bank with its parameters laid out, and the reference it belongs to."""

    bank: Bank
    curve: Curve
    rounding: float
    crack: float = np.inf
    """Roast time of first crack, s, where known."""
    needle: bool = False
    """True if a turn is a needle passing a mark, and not digits turning over."""
    k_early: Array = field(init=False)
    k_late: Array = field(init=False)
    tau: Array = field(init=False)
    share: Array = field(init=False)
    q_d: Array = field(init=False)
    tau_d: Array = field(init=False)
    sigma: Array = field(init=False)
    q_e: Array = field(init=False)

    def __post_init__(self) -> None:
        p = self.bank.parameters
        put = object.__setattr__
        put(self, "k_early", p[:, 0])
        put(self, "k_late", p[:, 8])
        put(self, "tau", p[:, 1:3])
        put(self, "share", np.stack([p[:, 3], 1 - p[:, 3]], axis=1))
        put(self, "q_d", p[:, 4])
        put(self, "tau_d", p[:, 5])
        put(self, "sigma", p[:, 6])
        put(self, "q_e", p[:, 7])

    def cracked(self, at: float | None) -> Model:
        """The model from a crack on that was marked at ``at`` (s); itself where none is."""
        return self if at is None else replace(self, crack=at)

    @cached_property
    def _early(self) -> Array:
        """Seconds spent early in the roast, by each whole second of the reference."""
        t = np.arange(self.curve.end + 2.0)
        early = 1.0 / (1.0 + np.exp((self.curve.at(t) - EARLY_ENDS) / EARLY_FADES))
        early[t < self.curve.turning_point[0]] = 1.0
        return _summed(early)

    def _share(self, spent: Array, t0: float, t1: Array) -> Array:
        """Share (h,) of the time from ``t0`` to ``t1`` (h,), s, spent in a phase; ``spent`` (n,), s, is the time
        spent in it by each whole second."""
        by = np.interp([t0, *t1], np.arange(len(spent)), spent)
        return np.asarray((by[1:] - by[0]) / np.maximum(t1 - t0, 1e-9))

    @cached_property
    def _cracked(self) -> Array:
        """Seconds spent since the crack, by each whole second of the reference and some minutes more."""
        t = np.arange(self.curve.end + 900.0)
        since = 1.0 / (1.0 + np.exp(np.clip((self.crack - t) / CRACK_FADES, -50.0, 50.0)))
        return _summed(since)

    def k(self, t0: float, t1: Array) -> Array:
        """The mean of k (m, h) from ``t0`` to times ``t1`` (h,), s, 1/s."""
        k = self.k_late[:, None] + (self.k_early - self.k_late)[:, None] * self._share(self._early, t0, t1)
        return k if np.isinf(self.crack) else np.asarray(k + K_CRACKED * self._share(self._cracked, t0, t1))

    def deviation(self, reading: Probe) -> float:
        """Deviation of a reading from the reference, K.

        As digits turn to n while they rise, the probe is half a step below what n means when it is typed as shown,
        whether a display rounds or cuts off; while they fall, half a step above.  A turn is logged sooner after it was
        seen than a number is typed, and all times here are those of typing.
        """
        if not reading.turned:
            return reading.celsius - self.curve.value(reading.t)
        slope = self.curve.slope(reading.t)
        half = 0.0 if self.needle or abs(slope) < STANDS else float(np.copysign(self.rounding / 2.0, slope))
        return reading.celsius - half - self.curve.value(reading.t + READ_BEFORE - TURN_DELAY)

    def noise(self, t: float, *, turned: bool = False) -> Array:
        """Variance (m,) of a reading at ``t``: probe noise, rounding, the doubt about its time, and the doubt about the
        reference near the turning point; of one that was timed as the dial ``turned``, nothing for rounding."""
        slope = self.curve.slope(t)
        since_turn = max(t - self.curve.turning_point[0], 0.0)
        shape = TURN_DOUBT * float(np.exp(-since_turn / TURN_FADES))
        if not turned:
            return np.asarray(self.sigma**2 + self.rounding**2 / 12.0 + (DELAY_SD * slope) ** 2 + shape**2)
        either = self.rounding**2 / 4.0 if abs(slope) < STANDS and not self.needle else 0.0
        return np.full(self.bank.size, TURN_SIGMA**2 + (TURN_SD * slope) ** 2 + either + shape**2)


def _summed(x: Array) -> Array:
    """The integral (n,) from the first of values a second apart to each, by trapezoids."""
    return np.concatenate([[0.0], np.cumsum(0.5 * (x[1:] + x[:-1]))])


@dataclass(frozen=True)
class BankState:
    """The filter at ``t``: x (m, 5), P (m, 5, 5), lagged inputs f (m, 3, 2), log weights (m,)."""

    t: float
    x: Array
    P: Array
    f: Array
    log_w: Array
    reading_t: float | None = None
    doubtful: tuple[tuple[int, str], ...] = ()
    held: tuple[float, float, int] | None = None
    """A doubtful reading (t, °C, line) that the next one may bear out."""
    score: float = 0.0
    """Smoothed squared innovation over its variance: about 1 when the model holds."""
    count: int = 0
    steps: Steps | None = None
    """Effect of possible moves that nobody logged; None where not requested."""
    trail: tuple[tuple[float, float], ...] = ()
    """Times (s) and deviations (K) after the readings of the last CLIMB seconds and the one before these."""

    @property
    def weights(self) -> Array:
        w = np.exp(self.log_w - self.log_w.max())
        return np.asarray(w / w.sum())


def start(model: Model, e0_sd: float = E0_SD, d0_sd: float = D0_SD, *, suspicious: bool = False) -> BankState:
    """The state at charge, with prior sds of e (K) and d (K/s); a ``suspicious`` one also follows the effect of
    possible moves that nobody logged."""
    m = model.bank.size
    x = np.zeros((m, 5))
    x[:, 2:] = GAIN
    P = np.zeros((m, 5, 5))
    P[:, 0, 0] = e0_sd**2
    P[:, 1, 1] = d0_sd**2
    P[:, [2, 3, 4], [2, 3, 4]] = GAIN_SD**2
    return BankState(0.0, x, P, np.zeros((m, 3, 2)), np.log(np.maximum(model.bank.weights, 1e-300)),
                 steps=Steps.none(m, x.shape[1]) if suspicious else None)  # fmt: skip


def expm1_over(rate: Array, dt: float | Array) -> Array:
    """(1 - exp(-rate dt)) / rate, well behaved as rate dt goes to 0."""
    return np.asarray(dt * exprel(-rate * dt))


def to_inputs(model: Model, k: Array, dt: Array) -> tuple[Array, Array, Array]:
    """Decay and effect of inputs over ``dt`` (h,), s, at mean ``k`` (m, h): the first, third and fourth of Response."""
    decay = np.exp(-k * dt)
    fading = decay[:, None, :] * expm1_over(1.0 / model.tau[:, :, None] - k[:, None, :], dt)
    return decay, expm1_over(k, dt), fading * model.share[:, :, None]


@dataclass(frozen=True)
class Response:
    """Response of a model over ``dt`` seconds, h values at once: to e from e itself (``decay``, (m, h)), from d
    (``drift``), from a constant input of 1 without lags (``steady``), and from a lagged input's gap to its constant
    value (``fading``, (m, 2, h), with the paths' shares in it); ``noise`` is the variance of e that comes in, K².

    Closed forms: the lags give the integral of exp(-k (dt - s)) exp(-s / tau_i) ds.  The double integral of the noise
    on d is taken with k and 1/tau_d small against 1/dt, damped by exp(-(k + 1/tau_d) dt): exact to first order, and
    never more than the undamped one (dt^3/3: e.g. Bar-Shalom, Li and Kirubarajan 2001, 6.2.2).
    """

    decay: Array
    drift: Array
    steady: Array
    fading: Array
    noise: Array

    @classmethod
    def over(cls, model: Model, t0: float, dt: Array) -> Response:
        """The responses from ``t0`` over times ``dt`` (h,), s, each with the mean k of its span."""
        k, rd = model.k(t0, t0 + dt), 1.0 / model.tau_d[:, None]
        decay, steady, fading = to_inputs(model, k, dt)
        q = (model.q_d**2)[:, None]
        noise = q * dt**3 / 3 * np.exp(-(k + rd) * dt) + (model.q_e**2)[:, None] * expm1_over(2 * k, dt)
        return cls(decay, decay * expm1_over(rd - k, dt), steady, fading, noise)


def lagged(model: Model, f: Array, u: Array, dt: float, response: Response) -> tuple[Array, Array]:
    """The lagged inputs after ``dt`` seconds of constant deviation ``u`` (3,), and what they add to e per unit gain.

    ``response`` is the model's over ``dt``.  Returns f (m, 3, 2) and psi (m, 3).
    """
    gap = f - u[None, :, None]
    f_new = u[None, :, None] + gap * np.exp(-dt / model.tau)[:, None, :]
    psi = u[None, :] * response.steady + np.einsum("mci,mi->mc", gap, response.fading[:, :, 0])
    return f_new, psi


def transition(model: Model, dt: float, psi: Array, response: Response) -> tuple[Array, Array]:
    """F (m, 5, 5) and Q (m, 5, 5) over ``dt``: noise on d integrates into e as dt^2/2, dt (see Response)."""
    m = model.bank.size
    F = np.zeros((m, 5, 5))
    F[:, 0, 0] = response.decay[:, 0]
    F[:, 0, 1] = response.drift[:, 0]
    F[:, 1, 1] = np.exp(-dt / model.tau_d)
    F[:, 0, 2:] = psi
    F[:, 2, 2] = F[:, 3, 3] = F[:, 4, 4] = 1.0
    damped = model.q_d**2 * response.decay[:, 0] * np.exp(-dt / model.tau_d)
    Q = np.zeros((m, 5, 5))
    Q[:, 0, 0] = response.noise[:, 0]
    Q[:, 0, 1] = Q[:, 1, 0] = damped * dt**2 / 2
    Q[:, 1, 1] = damped * dt
    return F, Q


def advance(model: Model, state: BankState, schedule: Schedule, t: float) -> BankState:
    """The state predicted for ``t`` (s), not before ``state.t``."""
    if t <= state.t:
        return state
    x, P, f, steps = state.x, state.P, state.f, state.steps
    pieces = schedule.between(state.t, t)
    ends = [s for s, _ in pieces[1:]] + [t]
    for (t0, u), t1 in zip(pieces, ends, strict=True):
        dt = t1 - t0
        response = Response.over(model, t0, np.array([dt]))
        f, psi = lagged(model, f, u, dt, response)
        F, Q = transition(model, dt, psi, response)
        if steps is not None:
            steps = steps.advanced(F, model.tau, response.steady[:, 0], response.fading[:, :, 0], x[:, 2], dt,
                                   schedule.gas_before(t0))  # fmt: skip
        x, P = predict(x, P, F, Q)
    return replace(state, t=t, x=x, P=P, f=f, steps=steps)


def observe(model: Model, state: BankState, reading: Probe) -> BankState:
    """The state after a reading at its own time.  An implausible one is rejected, with the reason."""
    if not LOWEST <= reading.celsius <= HIGHEST:
        return _doubt(state, reading, "outside what a probe in a roast can show")
    e, R = model.deviation(reading), model.noise(reading.t, turned=reading.turned)
    y, S = innovation(state.x, state.P, e, H, R)
    w = state.weights
    mean, spread = float(w @ y), float(np.sqrt(w @ S + w @ (y - w @ y) ** 2))
    off = abs(mean) / spread
    if off > GATE and not _borne_out(state, reading, model):
        degree = 1.0 if abs(reading.shown - reading.celsius) < 1e-6 else 1.8
        return _doubt(state, reading, f"expected about {reading.shown - mean * degree:.0f}")
    if off > GATE:  # two readings agree that the roast is elsewhere: believe them, and widen
        P = state.P.copy()
        P[:, 0, 0] += mean**2
        P[:, 1, 1] += (0.5 * D0_SD) ** 2
        held = state.held
        doubtful = tuple(d for d in state.doubtful if held is None or d[0] != held[2])
        state = replace(state, P=P, doubtful=doubtful)
        y, S = innovation(state.x, state.P, e, H, R)
        off = 0.0
    if off > SOFT:
        R = R + np.maximum(S * ((off / SOFT) ** 2 - 1), 0.0)
    wrong = model.rounding * np.array([0.0, -1.0, 1.0]) if reading.turned else np.zeros(1)
    post, log_likelihood = update_any(state.x, state.P, e + wrong, PRESSED[: len(wrong)], H, R)
    log_w = state.log_w + TEMPER * log_likelihood
    z_score = mean / spread
    steps = state.steps
    if steps is not None:
        steps = steps.compared(post.y, post.S, gain(state.P, post.S, H)).begun(reading.t)
    return replace(
        state,
        x=post.x,
        P=post.P,
        log_w=log_w - log_w.max(),
        reading_t=reading.t,
        held=None,
        score=0.75 * state.score + 0.25 * min(z_score**2, 25.0),
        count=state.count + 1,
        steps=steps,
        trail=_trailed(state.trail, reading.t, float(state.weights @ post.x[:, 0])),
    )


def _trailed(trail: tuple[tuple[float, float], ...], t: float, e: float) -> tuple[tuple[float, float], ...]:
    """The trail with deviation ``e`` (K) at ``t`` (s), without what is no longer needed."""
    kept = next((i for i in range(len(trail) - 1, -1, -1) if trail[i][0] <= t - CLIMB), 0)
    return (*trail[kept:], (t, e))


def climb(way: Callable[[Array], Array], at: Array, first: float = 0.0) -> Array:
    """The mean rate of rise (h,), K/s, of the CLIMB seconds before ``at`` (h,), s, but not from before ``first``, of a
    trajectory ``way`` that gives the probe (°C) at times (s)."""
    before = np.maximum(at - CLIMB, first)
    return np.asarray((way(at) - way(before)) / np.maximum(at - before, 1.0))


def _borne_out(state: BankState, reading: Probe, model: Model) -> bool:
    if state.held is None or reading.t - state.held[0] > 90.0 or reading.t <= state.held[0]:
        return False
    t, value, _ = state.held
    moved = model.curve.value(reading.t) - model.curve.value(t)
    return bool(abs(reading.celsius - value - moved) <= AGREE + 0.03 * (reading.t - t))


def _doubt(state: BankState, reading: Probe, reason: str) -> BankState:
    inside = LOWEST <= reading.celsius <= HIGHEST
    return replace(
        state,
        doubtful=(*state.doubtful, (reading.line, reason)),
        held=(reading.t, reading.celsius, reading.line) if inside else state.held,
    )


def track(model: Model, schedule: Schedule, readings: Sequence[Probe], state: BankState) -> list[BankState]:
    """The states after each reading, in order of time."""
    out: list[BankState] = []
    for reading in readings:
        state = observe(model, advance(model, state, schedule, reading.t), reading)
        out.append(state)
    return out


def summarise(model: Model, state: BankState) -> Estimate:
    """The mixture's mean and standard deviation of temperature and rate of rise, at the state's time."""
    w = state.weights
    e, var = _mixture(w, state.x[:, 0], state.P[:, 0, 0])
    phi = np.einsum("mci,mi->mc", state.f, model.share)
    G = np.concatenate([-model.k(state.t, np.array([state.t + 1.0])), np.ones((len(w), 1)), phi], axis=1)  # e' = G x
    rates = np.einsum("mi,mi->m", G, state.x)
    rate, rate_var = _mixture(w, rates, np.einsum("mi,mij,mj->m", G, state.P, G))
    t = state.t
    return Estimate(
        t,
        model.curve.value(t) + e,
        float(np.sqrt(var)),
        model.curve.slope(t) + rate,
        float(np.sqrt(rate_var)),
        state.reading_t,
        dict(state.doubtful),
    )


def _mixture(w: Array, means: Array, variances: Array) -> tuple[float, float]:
    mean = float(w @ means)
    return mean, float(w @ (variances + (means - mean) ** 2))
