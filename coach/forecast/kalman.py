"""The linear filter in the field's letters, for a bank of m models at once.  Nothing here knows about coffee.

x (m, n) means, P (m, n, n) covariances, F (m, n, n) transitions, Q (m, n, n) process noise,
H (n,) one measurement row, R (m,) measurement noise, z the measurement; y (m,) innovations, S (m,) their variances.
Equations: R. E. Kalman (1960); the Joseph form of the covariance update, P = (I - K H) P (I - K H)' + K R K', stays
symmetric and positive where the short form loses both to rounding (Bucy and Joseph 1968).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Posterior(NamedTuple):
    """Mean and covariance after a measurement, with the innovation and its variance."""

    x: Array
    P: Array
    y: Array
    S: Array


def predict(x: Array, P: Array, F: Array, Q: Array) -> tuple[Array, Array]:
    """x = F x;  P = F P F' + Q."""
    x = (F @ x[:, :, None])[:, :, 0]
    P = F @ P @ np.swapaxes(F, 1, 2) + Q
    return x, P


def innovation(x: Array, P: Array, z: float, H: Array, R: Array) -> tuple[Array, Array]:
    """y = z - H x;  S = H P H' + R."""
    y = z - x @ H
    S = np.einsum("i,mij,j->m", H, P, H) + R
    return y, S


def gain(P: Array, S: Array, H: Array) -> Array:
    """K = P H' / S (m, n)."""
    return np.asarray((P @ H) / S[:, None])


def update(x: Array, P: Array, z: float, H: Array, R: Array) -> Posterior:
    """K = P H' / S;  x = x + K y;  P in Joseph form."""
    y, S = innovation(x, P, z, H, R)
    K = gain(P, S, H)
    x = x + K * y[:, None]
    A = np.eye(len(H)) - K[:, :, None] * H
    P = A @ P @ np.swapaxes(A, 1, 2) + R[:, None, None] * (K[:, :, None] * K[:, None, :])
    return Posterior(x, P, y, S)


def update_any(x: Array, P: Array, z: Array, chances: Array, H: Array, R: Array) -> tuple[Posterior, Array]:
    """The update by a measurement that is one of ``z`` (c,), with prior probabilities ``chances`` (c,), and its log
    likelihood (m,) without the constant.

    The mixture that results is drawn together to its mean and covariance, as in probabilistic data association
    (Bar-Shalom, Li and Kirubarajan, Estimation with Applications to Tracking and Navigation, 2001, section 1.4.16 for
    the moments).
    """
    posts = [update(x, P, float(value), H, R) for value in z]
    first = posts[0]
    if len(posts) == 1:
        return first, -0.5 * (np.log(first.S) + first.y**2 / first.S)
    y = np.stack([p.y for p in posts])  # (c, m)
    log = np.log(chances)[:, None] - 0.5 * (np.log(first.S) + y**2 / first.S)
    most = log.max(axis=0)
    p = np.exp(log - most)
    total = p.sum(axis=0)
    p = p / total
    mean = (p * y).sum(axis=0)
    K = gain(P, first.S, H)
    spread = (p * (y - mean) ** 2).sum(axis=0)
    P_new = first.P + spread[:, None, None] * (K[:, :, None] * K[:, None, :])
    return Posterior(x + K * mean[:, None], P_new, mean, first.S), most + np.log(total)
