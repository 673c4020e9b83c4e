"""A whole measurement as a plainly vectorised numpy/scipy program: for the comparison of speed it skips no step.

Written from the definitions, not from the program: levels, noise with its correlation, lines against a local floor,
crossings, settling, excursions (smooth and at a corner), integrated error, first frame, blur and Gaussian edge, and the
doubts (clipped, held and repeated samples, jumps, pauses, drift, tails, hum), each with its uncertainty or statistic.
No loop runs over samples. Takes the manifest of reference.py; `--time` likewise.
"""
import numpy as np
from scipy import fft, signal, special

from harness import main

#: Windows and tapers by length, made once.
HANN = {}
TAPERS = {}
LAST = np.zeros(1 << 17, dtype=np.int32)


def change_point(sums, n):
    k = np.arange(1, n)
    left = sums[1:n] / k
    right = (sums[n] - sums[1:n]) / (n - k)
    return int(np.argmax(k * (n - k) * (left - right) ** 2)) + 1


def noise_of(y):
    """Variance of single samples without slow change, ρ₁, and variances of means by overlapping Allan differences."""
    d = y[2:] - y[:-2]
    d = d - d.mean()
    keep = np.abs(d) <= 4 * 1.4826 * np.median(np.abs(d))
    at = np.arange(len(y)) - (len(y) - 1) / 2
    slope = at @ y / (at @ at)
    rest = y - y.mean() - slope * at
    c = np.array([rest[: len(rest) - k] @ rest[k:] for k in range(4)]) / len(rest)
    sums = np.concatenate([[0.0], np.cumsum(rest)])
    allan = {}
    m = 1
    while m <= len(y) // 8:
        means = (sums[m:] - sums[:-m]) / m
        allan[m] = 0.5 * np.mean((means[m:] - means[:-m]) ** 2)
        m *= 2
    drift_t = slope * np.sqrt(at @ at) / np.sqrt(c[0] + 1e-300)
    return {"sigma": np.sqrt(np.mean(d[keep] ** 2) / 2), "c0": c[0], "rho": c[1] / (c[0] + 1e-300), "allan": allan,
            "slope": slope, "drift_t": drift_t, "rest": rest}


def u_mean(noise, n):
    """Standard uncertainty of the mean of n samples: a first-order autoregression, never under the Allan variance."""
    phi = min(max(float(noise["rho"]), 0.0), 0.9999)
    model = noise["c0"] / n * ((1 + phi) / (1 - phi) - 2 * phi * (1 - phi ** n) / (n * (1 - phi) ** 2))
    seen = max(v * m / n for m, v in noise["allan"].items()) if noise["allan"] else 0.0
    return np.sqrt(max(model, seen))


def line_of(rest):
    """Strongest line against the mean of its 32 neighbours; a multitaper F-test where one stands out."""
    n = min(len(rest), 4096)
    y = rest[:n]
    size = 2 * fft.next_fast_len(n, real=True)
    if n not in HANN:
        HANN[n] = signal.get_window("hann", n)
    power = np.abs(fft.rfft(y * HANN[n], size)) ** 2
    sums = np.concatenate([[0.0], np.cumsum(power)])
    # Means of the 32 neighbours on each side, six bins away from the line itself; none at the ends of the spectrum.
    count = len(power) - 77
    floor = (sums[77: 77 + count] - sums[:count] - sums[45: 45 + count] + sums[32: 32 + count]) / 64
    k = np.arange(38, 38 + count)
    ratio = power[38: 38 + count] / (floor + 1e-300)
    best = int(k[np.argmax(ratio)])
    found = {"ratio": float(ratio.max()), "frequency": best / size}
    if found["ratio"] > 14:
        if n not in TAPERS:
            TAPERS[n] = dpss(n)
        tapers, sums_h = TAPERS[n]
        spectra = fft.rfft(tapers * y, size, axis=1)[:, best]
        mean = (sums_h @ spectra) / (sums_h @ sums_h)
        rest_power = np.sum(np.abs(spectra - mean * sums_h) ** 2)
        found["F"] = float(10 * np.abs(mean) ** 2 * (sums_h @ sums_h) / (rest_power + 1e-300))
        t = 2 * np.pi * found["frequency"] * np.arange(len(rest))
        basis = np.stack([np.cos(t), np.sin(t), np.ones(len(rest))])
        found["fit"] = np.linalg.solve(basis @ basis.T, basis @ rest)
    return found


def dpss(n):
    tapers = signal.windows.dpss(n, 6, 11)
    return tapers, tapers.sum(axis=1)


def moving(y, half):
    """Centred means of 2·half + 1 samples; the ends keep their own values."""
    if half == 0:
        return y
    out = y.copy()
    sums = np.concatenate([[0.0], np.cumsum(y)])
    out[half: len(y) - half] = (sums[2 * half + 1:] - sums[: len(y) - 2 * half]) / (2 * half + 1)
    return out


def crossing(y, k, level):
    return k + (level - y[k]) / (y[k + 1] - y[k])


def up(y, level):
    return np.flatnonzero((y[:-1] < level) & (y[1:] >= level))


def slope_at(y, at, half):
    """Slope of a line fitted around an instant, for the uncertainty of a crossing."""
    low, high = max(0, int(at) - half), min(len(y), int(at) + half + 2)
    x = np.arange(low, high) - (low + high - 1) / 2
    return abs(x @ y[low:high] / (x @ x))


def least_squares(basis, values):
    """Coefficients by the normal equations, and the sum of squares that is left."""
    fit = np.linalg.solve(basis.T @ basis, basis.T @ values)
    rest = values - basis @ fit
    return fit, rest @ rest


def extreme(y, first, end, sigma):
    """Furthest value: a parabola, or two half-lines where those fit better."""
    k = first + int(np.argmax(y[first:end]))
    half = max(3, min(10, k - first, end - 1 - k))
    x = np.arange(-half, half + 1)
    piece = y[max(0, k - half): k + half + 1]
    if len(piece) != len(x):
        return y[k], k, sigma
    parabola, smooth = least_squares(np.stack([np.ones(len(x)), x, x * x], axis=1), piece)
    kink, corner = least_squares(np.stack([np.ones(len(x)), np.minimum(x, 0), np.maximum(x, 0)], axis=1), piece)
    if smooth > 2 * corner:
        return kink[0], k, 2 * sigma / np.sqrt(half)
    if parabola[2] < 0:
        return parabola[0] - parabola[1] ** 2 / (4 * parabola[2]), k, 1.5 * sigma / np.sqrt(len(x))
    return y[k], k, sigma


def runs_of_equal(raw):
    change = np.flatnonzero(np.diff(raw) != 0)
    return int(np.diff(np.concatenate([[-1], change, [len(raw) - 1]])).max())


def repeated_block(raw):
    """Longest distance at which eight samples come again exactly: where each window's hash was seen last."""
    codes = np.rint((raw - raw.min()) * (65535 / max(np.ptp(raw), 1e-12))).astype(np.uint64)
    count = len(codes) - 7
    hashes = np.zeros(count, dtype=np.uint64)
    for i in range(8):
        hashes = hashes * np.uint64(1000003) + codes[i: count + i]
    place = (hashes >> np.uint64(47)).astype(np.int64)
    at = np.arange(count)
    # Only places written here are read again.
    LAST[place] = at
    seen = LAST[place]
    return int((seen - at)[hashes[seen] == hashes].max(initial=0))


def tail_of(y, start):
    """Slow approach after the fast part: an exponential over block means, its rate scanned from a straight line up."""
    piece = y[start:]
    count = min(200, len(piece))
    width = len(piece) // count
    blocks = piece[: width * count].reshape(count, width).mean(axis=1)
    t = (np.arange(count) + 0.5) / count
    rates = np.concatenate([[1e-6], np.geomspace(0.1, 60, 40)])[:, None]
    shape = -np.expm1(-rates * t) / rates
    centred = shape - shape.mean(axis=1, keepdims=True)
    value = blocks - blocks.mean()
    size = (centred @ value) / np.sum(centred ** 2, axis=1)
    left = value @ value - size ** 2 * np.sum(centred ** 2, axis=1)
    best = int(np.argmin(left))
    rate = float(rates[best, 0])
    remaining = size[best] * np.exp(-rate) / rate
    within = left <= left[best] * (1 + 3.9 / (count - 3))
    return {"rate": rate, "remaining": float(remaining), "rates": [float(rates[within].min()), float(rates[within].max())]}


def step(job, raw):
    rate, n = job["rate"], len(raw)
    sums = np.concatenate([[0.0], np.cumsum(raw)])
    split = change_point(sums, n)
    before = raw[: max(1, int(round(job["beforeShare"] * split)))]
    after = raw[n - max(1, int(round(job["afterShare"] * (n - split)))):]
    first, last = before.mean(), after.mean()
    size = last - first
    plateaus = [raw[: int(0.9 * split)], raw[split + (n - split) // 2:]]
    noises = [noise_of(part) for part in plateaus]
    lines = [line_of(noise["rest"]) for noise in noises]
    noise = noises[1]
    sigma = noise["sigma"] / abs(size)
    u_first, u_last = u_mean(noises[0], len(before)) / abs(size), u_mean(noises[1], len(after)) / abs(size)
    y = (raw - first) / size
    low, high, band = job["percent"] / 100, 1 - job["percent"] / 100, job["band"] / 100
    ups = up(y, 0.5)
    if len(ups) == 0:
        return {"before": first, "after": last}
    mid = crossing(y, ups[0], 0.5)
    k = int(mid)

    def last_before(level):
        at = up(y[: k + 2], level)
        return crossing(y, at[-1], level)

    def first_after(level):
        at = up(y[max(k - 1, 0):], level)
        return crossing(y, at[0] + max(k - 1, 0), level)

    t_low, t_high, onset, arrival = last_before(low), first_after(high), last_before(band), first_after(1 - band)
    duration = t_high - t_low
    scale = max(3, int(duration / 8))
    out = {"before": first, "after": last, "mid": mid / rate, "duration": duration / rate, "arrival": (arrival - onset) / rate}
    phase = (2 + min(max(float(noise["rho"]), 0.0), 1.0)) / 3

    def u_crossing(at, p):
        local = slope_at(y, at, scale)
        bend = np.abs(np.diff(y[max(0, int(at) - 1): int(at) + 3], 2)).max(initial=0.0)
        return np.sqrt(phase * sigma ** 2 + ((1 - p) * u_first) ** 2 + (p * u_last) ** 2 + (bend / 8) ** 2 / 3) / local

    out["uDuration"] = np.hypot(u_crossing(t_low, low), u_crossing(t_high, high)) / rate
    out["uArrival"] = np.hypot(u_crossing(onset, band), u_crossing(arrival, 1 - band)) / rate

    # Excursions and settling through a mean whose noise is small against the band.
    half = int(min(max(0, np.ceil((4 * sigma / (band / 4)) ** 2 / 2)), duration / 8))
    smooth = moving(y, half)
    reach = 4 * sigma / np.sqrt(2 * half + 1)
    begin, end = int(np.ceil(arrival)), n - len(after)
    top, top_at, u_top = extreme(smooth if top_is_noise(sigma) else y, begin, end, sigma)
    out["overshoot"] = 100 * (top - 1) if top - 1 > reach else 0.0
    out["uOvershoot"] = 100 * np.hypot(u_top, u_last)
    bottom, _, u_bottom = extreme(-smooth, top_at, end, sigma)
    out["dip"] = 100 * (1 + bottom) if out["overshoot"] > 0 and 1 + bottom > reach else 0.0
    outside = np.flatnonzero(np.abs(smooth[begin:] - 1) > band + (reach if half > 0 else 0))
    if len(outside) == 0:
        settled = arrival
    else:
        at = begin + outside[-1]
        edge = 1 + band if smooth[at] > 1 else 1 - band
        inside = np.flatnonzero(np.sign(smooth[at:] - edge) != np.sign(smooth[at] - edge))
        settled = crossing(smooth, at + inside[0] - 1, edge) if len(inside) else None
    if settled is not None:
        out["settling"] = (settled - onset) / rate
        out["uSettling"] = np.hypot(u_crossing(onset, band), u_crossing(settled, 1 - band)) / rate
        out["inWindow"] = bool((settled - onset) / rate <= 1 / job["refresh"])

    # Integral of the magnitude: changes of side count beyond the noise only, read through the same mean.
    e = y - 1
    side = np.where(np.abs(smooth - 1) > reach, np.sign(smooth - 1), 0)[int(onset):]
    held = side[np.maximum.accumulate(np.where(side != 0, np.arange(len(side)), 0))]
    start = int(onset) + 1
    area = np.abs(np.add.reduceat(e[start:], np.flatnonzero(np.diff(np.concatenate([[9.0], held[1:]])) != 0))).sum()
    out["integratedError"] = (area - 0.5 * abs(e[-1]) + (start - onset) * (0.5 * (abs(e[start]) + 1 - band)) - 0.5 * abs(e[start])) / rate
    out["uIntegratedError"] = np.hypot(u_mean(noise, n - start) / abs(size), u_last) * (n - start) / rate

    frame = rate / job["refresh"]
    at = onset + frame
    if at < n - 3:
        x = np.arange(max(0, int(at) - scale), int(at) + 1)
        power = x - at
        fit, _ = least_squares(np.stack([np.ones(len(x)), power, power * power][: len(x)], axis=1), y[x])
        out["firstFrame"] = 100 * fit[0]
        out["uFirstFrame"] = 100 * np.hypot(3 * sigma / np.sqrt(len(x)), u_last)

    # Moving edge: one-frame box from the running integral.
    span = int(np.ceil(frame)) + 1
    padded = np.concatenate([np.zeros(span), y, np.ones(span)])
    running = np.concatenate([[0.0], np.cumsum(0.5 * (padded[1:] + padded[:-1]))])
    # The box ends on a sample and begins between two.
    part = span - frame
    ends = running[span:]
    begins = running[: len(ends)] + part * (running[1: len(ends) + 1] - running[: len(ends)])
    box = (ends - begins) / frame
    centre = up(box, 0.5)[0]
    lows, highs = up(box[: centre + 2], 0.1), up(box[centre:], 0.9)
    if len(lows) and len(highs):
        b10, b90 = crossing(box, lows[-1], 0.1), crossing(box, highs[0] + centre, 0.9)
        out["blurEdge"] = (b90 - b10) / rate
        out["uBlurEdge"] = np.hypot(sigma / np.sqrt(frame), 0.9 * u_last) * frame / rate * 1.4
        # Gaussian edge: 193 points, Gauss–Newton on middle and width.
        middle, width = float(centre), frame / 3
        grid = middle + frame * (np.arange(193) / 16 - 4)
        edge = np.interp(grid, np.arange(len(box)), box, left=0.0)
        for _ in range(8):
            z = (grid - middle) / width
            density = np.exp(-0.5 * z * z) / (np.sqrt(2 * np.pi) * width)
            error = edge - special.ndtr(z)
            a, b = -density, -z * density
            aa, ab, bb = a @ a, a @ b, b @ b
            ae, be = a @ error, b @ error
            det = aa * bb - ab * ab
            move, grow = (bb * ae - ab * be) / det, (aa * be - ab * ae) / det
            middle, width = middle + move, width + grow
            if abs(move) + abs(grow) < 1e-6 * width:
                break
        out["gaussianEdge"] = 2 * special.ndtri(0.9) * width / rate

    # Doubts.
    inside = y[int(onset): int(arrival) + 2]
    steps = np.diff(inside)
    flat = moving(inside, scale)
    slopes = np.diff(flat)
    hum = line_of(raw[split + (n - split) // 8:] - last)
    quarters = noise["rest"][: len(noise["rest"]) // 8 * 8].reshape(8, -1)
    out["doubts"] = {
        "clipped": int(np.count_nonzero(np.abs(raw) >= job.get("rail", np.inf))),
        "held": runs_of_equal(raw),
        "repeated": repeated_block(raw),
        "jump": float(np.abs(steps).max(initial=0.0) / (np.median(np.abs(steps)) + 1e-12)),
        "pause": float(slopes[1:-1].min(initial=1.0) / (slopes.max(initial=1e-12) + 1e-12)),
        "crossings": int(len(ups)),
        "drift": [float(one["drift_t"]) for one in noises],
        "tail": tail_of(y, int(arrival)),
        "hum": hum["ratio"],
        "lines": [line["ratio"] for line in lines],
        "quiet": float(quarters.var(axis=1).max() / (quarters.var(axis=1).min() + 1e-300)),
        "signalToNoise": float(abs(size) / (noise["sigma"] + 1e-300)),
        "underResolved": bool(duration < 3),
    }
    return out


def top_is_noise(sigma):
    """Whether single samples scatter enough that an extreme must be looked for in a mean."""
    return sigma > 1e-4


if __name__ == "__main__":
    main({"step": step}, warm=5)
