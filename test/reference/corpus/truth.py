"""What a continuous, noise-free waveform is: every measure by its definition, with scipy's root finding and quadrature.

Definitions: the 50 % crossing is the first; the low reference crossing and the onset are the last upward ones before it;
everything else is searched from it onward. Times in s; None where the record does not define a value.
"""
import numpy as np
from scipy import optimize

NODES, WEIGHTS = np.polynomial.legendre.leggauss(6)


class Truth:
    """A wave on a fine grid that holds its knots, from its start to `until`."""

    def __init__(self, wave, until):
        self.wave, self.until = wave, until
        near = np.geomspace(1e-8, max(until, 1e-3), 3000)
        parts = [np.linspace(wave.starts, wave.starts + 1.5 * wave.reach, 40_001), np.linspace(wave.starts, until, 40_001)]
        for knot in wave.knots:
            parts += [[knot], knot + near, knot - near]
        grid = np.unique(np.concatenate(parts))
        self.t = grid[(grid >= wave.starts) & (grid <= until)]
        self.y = wave(self.t)
        self.running = np.concatenate([[0.0], np.cumsum(self._pieces(lambda y: y, self.t))])

    def _pieces(self, of, t):
        half = np.diff(t)[:, None] / 2
        values = of(self.wave(t[:-1, None] + half + half * NODES))
        return (values * WEIGHTS).sum(axis=1) * half[:, 0]

    def integral(self, t):
        """∫ y from the start to t."""
        if t <= self.t[0]:
            return 0.0
        k = min(np.searchsorted(self.t, t, side="right") - 1, len(self.t) - 1)
        half = (t - self.t[k]) / 2
        return self.running[k] + float((self.wave(self.t[k] + half + half * NODES) * WEIGHTS).sum() * half)

    def _root(self, k, level):
        a, b = self.t[k], self.t[k + 1]
        f = lambda t: float(self.wave(t)) - level
        if f(a) == 0:
            return a
        return optimize.brentq(f, a, b, xtol=1e-15, rtol=1e-14)

    def first_up(self, level, after=-np.inf):
        for k in np.flatnonzero((self.y[:-1] < level) & (self.y[1:] >= level) & (self.t[1:] > after)):
            at = self._root(k, level)
            if at >= after - 1e-12:
                return at
        return None

    def last_up(self, level, before):
        for k in np.flatnonzero((self.y[:-1] < level) & (self.y[1:] >= level) & (self.t[:-1] <= before))[::-1]:
            at = self._root(k, level)
            if at <= before + 1e-12:
                return at
        return None

    def last_entry(self, band, end):
        """Last entry into 1 ± band that is kept to the end; None when the wave is still outside there."""
        inside = np.abs(self.y - 1) <= band
        here = self.t <= end
        outside = np.flatnonzero(~inside & here)
        if len(outside) == 0:
            return None
        k = outside[-1]
        if k + 1 >= len(self.t) or self.t[k + 1] > end:
            return None
        return self._root(k, 1 + band if self.y[k] > 1 else 1 - band)

    def extreme(self, sign, after):
        """Furthest value on one side from an instant on, and where."""
        here = np.flatnonzero(self.t >= after)
        k = here[np.argmax(sign * self.y[here])]
        low, high = self.t[max(k - 1, 0)], self.t[min(k + 1, len(self.t) - 1)]
        found = optimize.minimize_scalar(lambda t: -sign * float(self.wave(t)), bounds=(low, high), method="bounded",
                                         options={"xatol": 1e-13})
        if -found.fun > sign * self.y[k]:
            return float(-found.fun * sign), float(found.x)
        return float(self.y[k]), float(self.t[k])

    def error(self, start, end):
        """∫ |y − 1| between two instants."""
        inner = self.t[(self.t > start) & (self.t < end)]
        return float(self._pieces(lambda y: np.abs(y - 1), np.concatenate([[start], inner, [end]])).sum())

    def blur_edge(self, frame):
        """10–90 % of the response averaged over one frame."""
        # Three points in four are dropped from this grid: only brackets are needed.
        ends = np.unique(np.concatenate([self.t[::4], self.t[::4] + frame]))
        ends = ends[ends <= self.until]
        integrals = np.interp(ends, self.t, self.running) - np.interp(ends - frame, self.t, self.running, left=0.0)
        box = integrals / frame
        exact = lambda t: (self.integral(t) - self.integral(t - frame)) / frame

        def root(k, level):
            a, b = ends[max(k - 1, 0)], ends[min(k + 2, len(ends) - 1)]
            return optimize.brentq(lambda t: exact(t) - level, a, b, xtol=1e-14)

        up = lambda level: np.flatnonzero((box[:-1] < level) & (box[1:] >= level))
        middle = up(0.5)[0]
        low = [k for k in up(0.1) if k <= middle][-1]
        high = [k for k in up(0.9) if k >= middle]
        return root(high[0], 0.9) - root(low, 0.1) if high else None


def step_truth(wave, record_end, refresh, percent=10.0, band=3.0):
    """Every measure of a transition whose record ends `record_end` s after time 0, those that end after the record does,
    and the instant of the 50 % crossing."""
    frame = 1 / refresh
    truth = Truth(wave, max(record_end, wave.starts + 60 * wave.reach) + 3 * frame)
    p, b = percent / 100, band / 100
    mid = truth.first_up(0.5)
    onset = truth.last_up(b, mid)
    arrival = truth.first_up(1 - b, mid)
    settled = truth.last_entry(b, truth.until - 1e-9)
    high, _ = truth.extreme(1, arrival)
    reached = truth.first_up(1.0 - 1e-12, mid)
    low = 1.0
    if high > 1 + 1e-9 and reached is not None:
        low, _ = truth.extreme(-1, reached)
    out = {
        "transition_duration_s": truth.first_up(1 - p, mid) - truth.last_up(p, mid),
        "arrival_s": arrival - onset,
        "settling_s": None if settled is None else max(settled, arrival) - onset,
        "overshoot_pct": max(0.0, 100 * (high - 1)) if high > 1 + 1e-9 else 0.0,
        "undershoot_pct": max(0.0, 100 * (1 - low)),
        "integrated_error_s": truth.error(onset, record_end),
        "first_frame_completion_pct": 100 * float(wave(onset + frame)),
        "blur_edge_s": truth.blur_edge(frame),
    }
    if settled is None and np.all(np.abs(truth.y[truth.t >= arrival] - 1) <= b + 1e-12):
        out["settling_s"] = out["arrival_s"]
    out["in_window"] = 0.0 if out["settling_s"] is None or out["settling_s"] > frame else 1.0
    # What the record ends before cannot be read from it: a value or none, both may be said.
    beyond = [name for name in ("arrival_s", "settling_s")
              if out[name] is None or onset + out[name] > record_end - 1e-4]
    return out, beyond, mid
