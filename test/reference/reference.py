"""Independent reference: the same measurement steps written from their definitions with numpy and scipy.

Shares nothing with the program. Reads a manifest (JSON) naming files of float64 little-endian samples; prints one JSON
list. Times in s from the first sample, levels in the unit of the samples. Missing values are null.

    reference.py manifest.json          measure and print
    reference.py --time manifest.json   measure each trace repeatedly, print seconds of the processor per measurement
"""
import numpy as np
from scipy import fft, integrate, interpolate, optimize, signal, special

from harness import main


def change_point(y):
    """Sample after which the mean changes most: the split of least squared error."""
    n = len(y)
    sums = np.cumsum(y)
    k = np.arange(1, n)
    left = sums[:-1] / k
    right = (sums[-1] - sums[:-1]) / (n - k)
    return int(np.argmax(k * (n - k) * (left - right) ** 2)) + 1


def crossing(y, k, level):
    """Instant between samples k and k + 1, in samples."""
    return k + (level - y[k]) / (y[k + 1] - y[k])


def first_up(y, start, level):
    """First crossing of a rising signal at or after a position, in samples."""
    k = int(np.floor(start))
    hits = np.flatnonzero((y[k:-1] < level) & (y[k + 1:] >= level))
    for hit in hits:
        at = crossing(y, k + hit, level)
        if at >= start - 1e-9:
            return at
    return None


def last_up(y, stop, level):
    """Last upward crossing at or before a position, in samples."""
    k = int(np.ceil(stop))
    hits = np.flatnonzero((y[:k] < level) & (y[1:k + 1] >= level))
    for hit in hits[::-1]:
        at = crossing(y, hit, level)
        if at <= stop + 1e-9:
            return at
    return None


def last_entry(y, low, high):
    """Last entry into [low, high] that is kept to the end, in samples; None when the end is outside."""
    outside = np.flatnonzero((y < low) | (y > high))
    if len(outside) == 0:
        return 0.0
    k = outside[-1]
    if k == len(y) - 1:
        return None
    return crossing(y, k, low if y[k] < low else high)


def edge_of_box(y, mid, width):
    """One-frame box over the step response: values and the positions of their centres (samples)."""
    n = len(y)
    span = int(np.ceil(width)) + 1
    padded = np.concatenate([np.zeros(span), y, np.full(span, 1.0)])
    running = integrate.cumulative_trapezoid(padded, initial=0)
    at = np.arange(len(padded), dtype=float)
    stop = at[at >= width]
    box = (np.interp(stop, at, running) - np.interp(stop - width, at, running)) / width
    return stop - span, box


def plateau(y):
    """Noise of single samples (differences over two samples, clipped at four robust deviations), drift, strongest line."""
    d = y[2:] - y[:-2]
    d = d - d.mean()
    keep = np.abs(d) <= 4 * 1.4826 * np.median(np.abs(d))
    at = np.arange(len(y)) - (len(y) - 1) / 2
    slope = np.dot(at, y) / np.dot(at, at)
    padded = fft.next_fast_len(len(y), real=True)
    amplitude = np.abs(fft.rfft((y - y.mean()) * signal.get_window("hann", len(y)), padded)) * 4 / len(y)
    floor = np.median(amplitude) / np.sqrt(np.log(2))
    k = int(np.argmax(amplitude[3:])) + 3
    return {"noise": float(np.sqrt(np.mean(d[keep] ** 2) / 2)), "drift": float(slope * len(y)),
            "line": k / padded, "amplitude": float(amplitude[k]), "floor": float(floor)}


def step(job, raw):
    rate = job["rate"]
    n = len(raw)
    split = job.get("split") or change_point(raw)
    before = raw[: max(1, int(round(job["beforeShare"] * split)))]
    after = raw[n - max(1, int(round(job["afterShare"] * (n - split)))):]
    stat = np.median if job.get("statistic") == "median" else np.mean
    first, last = stat(before), stat(after)
    size = last - first
    out = {"before": first, "after": last, "step": size}
    out["noise"] = float(np.sqrt((np.var(before, ddof=1) * (len(before) - 1) + np.var(after, ddof=1) * (len(after) - 1))
                                 / (len(before) + len(after) - 2)))
    if job.get("plateaus"):
        clipped = int(np.sum(np.abs(raw) >= job.get("rail", np.inf)))
        out["plateaus"] = [plateau(raw[: int(0.9 * split)]), plateau(raw[split + (n - split) // 2:]), clipped]
    y = (raw - first) / size
    low, high = job["percent"] / 100, 1 - job["percent"] / 100
    band = job["band"] / 100
    mid = first_up(y, 0, 0.5)
    if mid is None:
        return out
    t_low, t_high = last_up(y, mid, low), first_up(y, mid, high)
    onset = last_up(y, mid, band)
    arrival = first_up(y, mid, 1 - band)
    settled = last_entry(y, 1 - band, 1 + band)
    out["mid"] = mid / rate
    if t_low is not None and t_high is not None:
        out["duration"] = (t_high - t_low) / rate
    if onset is not None and arrival is not None:
        out["onset"] = onset / rate
        out["arrival"] = (arrival - onset) / rate
    if onset is not None and settled is not None:
        out["settling"] = (settled - onset) / rate
        out["settledAt"] = settled / rate
    if arrival is not None:
        tail = y[int(np.ceil(arrival)):]
        peak = int(np.argmax(tail))
        out["overshoot"] = 100 * max(0.0, float(tail[peak]) - 1)
        out["overshootAt"] = (int(np.ceil(arrival)) + peak - onset) / rate
        out["dip"] = 100 * max(0.0, 1 - float(np.min(tail[peak:])))
    if onset is not None:
        at = np.arange(n)
        keep = at > onset
        x = np.concatenate([[onset], at[keep]])
        start = np.interp(onset, at, y)
        error = np.abs(np.concatenate([[start], y[keep]]) - 1)
        out["integratedError"] = float(np.trapz(error, x)) / rate
        if job.get("refresh"):
            frame = rate / job["refresh"]
            if onset + frame <= n - 1:
                out["firstFrame"] = 100 * float(np.interp(onset + frame, at, y))
    if job.get("refresh"):
        width = rate / job["refresh"]
        x, box = edge_of_box(y, mid, width)
        centre = first_up(box, 0, 0.5)
        t10, t90 = last_up(box, centre, 0.1), first_up(box, centre, 0.9)
        if t10 is not None and t90 is not None:
            out["blurEdge"] = (t90 - t10) / rate
        if job.get("gaussian"):
            # 16 points per frame from 4 frames before the step to 8 after; 1 beyond the record's end.
            grid = min(mid, centre) + width * (np.arange(12 * 16 + 1) / 16 - 4)
            edge = np.interp(grid, x, box, left=0.0)
            edge[grid > n - 1] = 1.0
            fit = optimize.least_squares(lambda p: special.ndtr((grid - p[0]) / p[1]) - edge,
                                         [centre, width / 3], method="lm")
            out["gaussianEdge"] = 2 * special.ndtri(0.9) * abs(fit.x[1]) / rate
    return out


def code(job, raw):
    """Grey-level code of the luminances by the inverse of a ladder (monotone cubic of Fritsch and Carlson)."""
    levels = np.array(job["ladderLevels"], dtype=float)
    volts = np.array(job["ladderVolts"], dtype=float)
    inverse = interpolate.PchipInterpolator(volts, levels)
    return {"code": inverse(np.clip(raw, volts[0], volts[-1])).tolist()}


def periodic(job, y):
    rate = job["rate"]
    n = len(y)
    t = np.arange(n) / rate
    window = signal.get_window("hann", n)
    spectrum = np.abs(np.fft.rfft((y - y.mean()) * window, 4 * n))
    guess = np.argmax(spectrum[32:]) + 32
    guess = guess * rate / (4 * n)

    def line(f):
        """Power in the line and its first harmonics, to be maximised."""
        return -sum(np.abs(np.sum((y - y.mean()) * window * np.exp(-2j * np.pi * k * f * t))) ** 2 for k in (1, 2, 3))

    width = rate / n
    best = optimize.minimize_scalar(line, bounds=(guess - width / 2, guess + width / 2), method="bounded",
                                    options={"xatol": 1e-10 * guess})
    f0 = best.x
    cycles = int(np.floor(n * f0 / rate))
    whole = int(round(cycles * rate / f0))
    cut = y[:whole]
    mean = cut.mean()
    spectrum = np.fft.rfft(cut) / whole
    harmonics = np.arange(1, int(min(2000, 0.45 * rate) // f0) + 1)
    relative = 2 * np.abs(spectrum[harmonics * cycles]) / abs(spectrum[0])
    f = harmonics * f0
    threshold = 1 / (1 + np.exp(-0.00518 * (f - 306.6))) + 20 * np.exp(-f / 10)
    per = int(round(rate / f0))
    cycle = np.interp(np.add.outer(np.arange(cycles), np.arange(per) / per) * rate / f0, np.arange(n), y).mean(axis=0)
    out = {
        "fundamental": f0,
        "percentFlicker": 100 * (cycle.max() - cycle.min()) / (cycle.max() + cycle.min()),
        "flickerIndex": np.sum(np.clip(cycle - cycle.mean(), 0, None)) / np.sum(cycle),
        "rms": 100 * cycle.std() / cycle.mean(),
        "svm": float(np.sum((relative / threshold) ** 3.7) ** (1 / 3.7)),
    }
    s = 2j * np.pi * f[f <= 120]
    sensitivity = np.abs(148.7 * ((1 + s * 0.00267) ** -15 - 0.882 * (1 + s * 1.834 * 0.00267) ** -16))
    if len(sensitivity):
        out["jnd"] = float(np.max(sensitivity * relative[f <= 120]))
    if job.get("pst"):
        out["pst"] = pst(y, rate)
    return out


def pst(y, rate):
    u = y / y.mean() - 1
    u = signal.lfilter(*signal.butter(1, 0.05, "highpass", fs=rate), u)
    u = signal.sosfilt(signal.butter(6, 35, "lowpass", fs=rate, output="sos"), u)
    b, a = signal.bilinear([0.041661, 44.758, 2715.6, 29839, 0], [1, 196.32, 11781, 534820, 3505380], fs=rate)
    u = signal.lfilter(b, a, u) ** 2
    u = signal.lfilter(*signal.bilinear([1], [0.3, 1], fs=rate), u) * 1.101603155420234e6
    u = u[int(20 * rate):]

    def p(*percents):
        return np.mean([np.percentile(u, 100 - x) for x in percents])

    return float(np.sqrt(0.0314 * p(0.1) + 0.0525 * p(0.7, 1, 1.5) + 0.0657 * p(2.2, 3, 4)
                         + 0.28 * p(6, 8, 10, 13, 17) + 0.08 * p(30, 50, 80)))


if __name__ == "__main__":
    main({"step": step, "periodic": periodic, "code": code}, warm=1)
