"""Closed-form step responses: y(t) goes from 0 to 1, time 0 is the instant at which the display begins to change.

A wave is a function of an array of times in s, with `knots`: times at which its formula changes (its value stays
continuous, its slope may jump), and `reach`: a time after which nothing but its slowest tail is left.
"""
import numpy as np
from scipy import special


class Wave:
    def __init__(self, formula, knots=(0.0,), starts=0.0, reach=0.02):
        self.formula, self.knots, self.starts, self.reach = formula, tuple(knots), starts, reach

    def __call__(self, t):
        t = np.asarray(t, dtype=float)
        return np.where(t < self.starts, 0.0, self.formula(np.maximum(t, self.starts)))


def first_order(tau):
    return Wave(lambda t: -np.expm1(-t / tau), reach=10 * tau)


def two_poles(tau, second):
    """Cascade of two different first-order lags."""
    return Wave(lambda t: 1 - (tau * np.exp(-t / tau) - second * np.exp(-t / second)) / (tau - second),
                reach=10 * max(tau, second))


def equal_poles(tau, count):
    """Cascade of equal first-order lags: the regularised incomplete gamma function."""
    return Wave(lambda t: special.gammainc(count, t / tau), reach=(10 + 2 * count) * tau)


def ramp(length):
    return Wave(lambda t: np.minimum(1.0, t / length), knots=(0.0, length), reach=length)


def raised_cosine(length):
    return Wave(lambda t: np.where(t >= length, 1.0, 0.5 - 0.5 * np.cos(np.pi * np.minimum(t, length) / length)),
                knots=(0.0, length), reach=length)


def gaussian(sigma):
    """Gaussian edge, its middle six deviations after time 0."""
    return Wave(lambda t: special.ndtr(t / sigma - 6), knots=(0.0, 6 * sigma), reach=12 * sigma)


def logistic(scale):
    return Wave(lambda t: special.expit(t / scale - 16), knots=(0.0, 16 * scale), reach=32 * scale)


def second_order(damping, omega):
    root = np.sqrt(1 - damping * damping)
    return Wave(lambda t: 1 - np.exp(-damping * omega * t)
                * (np.cos(omega * root * t) + damping / root * np.sin(omega * root * t)),
                reach=8 / (damping * omega))


def overdrive(a, fast, slow):
    """1 + a·e^(−t/slow) − (1 + a)·e^(−t/fast): a smooth overshoot."""
    return Wave(lambda t: 1 + a * np.exp(-t / slow) - (1 + a) * np.exp(-t / fast), reach=10 * slow)


def overdrive_peak(a, fast, slow):
    """Share of the step by which `overdrive` passes its target: at the zero of its derivative."""
    at = np.log((1 + a) * slow / (a * fast)) / (1 / fast - 1 / slow)
    return a * np.exp(-at / slow) - (1 + a) * np.exp(-at / fast)


def overdrive_of(share, fast, slow):
    """The smooth overshoot whose peak is the given share of the step."""
    from scipy.optimize import brentq
    return overdrive(brentq(lambda a: overdrive_peak(a, fast, slow) - share, 1e-6, 20), fast, slow)


def boosted_frame(share, tau, frame):
    """First-order cell driven harder for exactly one frame: it passes its target by `share` where the frame ends."""
    top = (1 + share) / -np.expm1(-frame / tau)
    return Wave(lambda t: np.where(t < frame, -top * np.expm1(-np.minimum(t, frame) / tau),
                                   1 + share * np.exp(-(np.maximum(t, frame) - frame) / tau)),
                knots=(0.0, frame), reach=frame + 10 * tau)


def two_frames(first, tau, frame):
    """First-order cell driven to `first` of the step during one frame and to the whole of it from then on."""
    at = -first * np.expm1(-frame / tau)
    return Wave(lambda t: np.where(t < frame, -first * np.expm1(-np.minimum(t, frame) / tau),
                                   1 - (1 - at) * np.exp(-(np.maximum(t, frame) - frame) / tau)),
                knots=(0.0, frame), reach=frame + 10 * tau)


def tails(parts):
    """Sum of first-order approaches: pairs of share and time constant, the shares adding up to 1."""
    return Wave(lambda t: 1 - sum(share * np.exp(-t / tau) for share, tau in parts),
                reach=10 * min(tau for _, tau in parts))


def mix(fast, share, slow):
    """A share of the step follows the slow wave, the rest the fast one; both start at time 0."""
    return Wave(lambda t: (1 - share) * fast.formula(t) + share * slow.formula(t), knots=fast.knots, reach=fast.reach)
