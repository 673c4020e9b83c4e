"""Writes realisations of every kind and what is true of them. Shares nothing with the program.

    generate.py FOLDER [--seed 1] [--realisations 12] [--groups "a;b"] [--names part]

FOLDER gets one file of little-endian samples (int16 or float32) per realisation and manifest.json.
"""
import argparse
import json
import os
import sys

import numpy as np
from scipy import integrate

import disturb
import kinds as catalogue
from truth import step_truth

FINE = 32
TRUTHS = {}


def light_of(kind, t, first, last, random):
    """Volts at the times t without noise: the cell, its backlight, what the detector picks up."""
    fine = kind.detector is not None
    phase = random.random()
    pwm_phase = random.random()

    def shown(at):
        cell = first + (last - first) * kind.wave(at)
        if kind.ripple:
            hz, depth = kind.ripple
            cell = cell * (1 + depth * np.sin(2 * np.pi * (hz * at + phase)))
        if kind.pwm:
            hz, duty, low = kind.pwm
            cell = cell * disturb.pulse_train(at, hz, duty, low, pwm_phase)
        if kind.strobe:
            cell = cell * gate(kind, at)
        return cell

    if not fine:
        return shown(t)
    duration, poles, _ = kind.detector
    # 10–90 % of one pole is 2.197225 τ, of four equal ones 4.936014 τ (quantiles of the gamma distribution).
    tau = duration / (2.197225 if poles == 1 else 4.936014)
    step = (t[1] - t[0]) / FINE
    warm = int(np.ceil(40 * tau / step / FINE)) * FINE
    at = t[0] + step * np.arange(-warm, (len(t) - 1) * FINE + 1)
    return disturb.through_detector(shown(at), step, tau, poles)[warm::FINE]


def gate(kind, t):
    """Strobed backlight: time 0 is the start of a frame of the row that is seen."""
    start, width, glow, decay = kind.strobe
    frame = 1 / kind.refresh
    at = (t - start * frame) % frame
    lit = np.where(at < width * frame, 1.0, glow)
    if decay > 0:
        end = width * frame
        # Steady state: each pulse starts on what the one before has left.
        left = 1 / -np.expm1(-frame / decay)
        rise = 1 - np.exp(-at / decay)
        carried = (1 - np.exp(-end / decay)) * np.exp(-(frame - end) / decay) * left * np.exp(-at / decay)
        fall = (1 - np.exp(-end / decay)) * left * np.exp(-(at - end) / decay)
        lit = np.where(at < end, rise + carried, fall)
    return lit


def crosstalk(kind, wave):
    """Share of the old level in the first pulse after the change: energies over the lit window (with its decay)."""
    start, width, _, decay = kind.strobe
    frame = 1 / kind.refresh
    length = width * frame if decay == 0 else frame
    energy = lambda opens: integrate.quad(lambda t: float(wave(t)) * float(gate(kind, np.array(t))), opens, opens + length,
                                          points=[opens + width * frame] if decay else None, epsabs=1e-14, limit=500)[0]
    opens = start * frame
    return 100 * (1 - energy(opens) / energy(opens + 4000 * frame))


def flicker_truth(kind):
    form, hz, *rest = kind.periodic
    threshold = lambda f: 1 / (1 + np.exp(-0.00518 * (f - 306.6))) + 20 * np.exp(-f / 10)
    if form == "sine":
        (m,) = rest
        # IES percent flicker and flicker index of 1 + m·sin; one component of relative amplitude m.
        return {"fundamental_hz": hz, "percent_flicker_pct": 100 * m, "flicker_index": m / np.pi,
                "svm": m / threshold(hz)}
    duty, low = rest
    mean = low + duty * (1 - low)
    order = np.arange(1, int(2000 // hz) + 1)
    amplitude = 2 * (1 - low) * np.abs(np.sin(np.pi * order * duty)) / (np.pi * order) / mean
    return {"fundamental_hz": hz, "percent_flicker_pct": 100 * (1 - low) / (1 + low),
            "flicker_index": duty * (1 - duty) * (1 - low) / mean,
            "svm": float(np.sum((amplitude / threshold(order * hz)) ** 3.7) ** (1 / 3.7))}


def code_truth(kind, peak_share):
    """Overshoot in codes of a display of a pure 2.2 power law."""
    a, b = ((c / 255) ** 2.2 for c in kind.codes)
    return 255 * (b + (b - a) * peak_share) ** (1 / 2.2) - kind.codes[1]


def truth_of(kind):
    """Truths by measure, those beyond the record's end, and the instant of the light's 50 % crossing."""
    if kind.periodic:
        return flicker_truth(kind), [], 0.0
    known = (id(kind.wave), kind.post, kind.refresh)
    if known not in TRUTHS:
        TRUTHS[known] = step_truth(kind.wave, kind.post, kind.refresh)
    out, beyond, mid = TRUTHS[known]
    if kind.strobe:
        return {"first_pulse_crosstalk_pct": crosstalk(kind, kind.wave)}, [], mid
    out = dict(out)
    if kind.codes:
        out["overshoot_code"] = code_truth(kind, out["overshoot_pct"] / 100)
    return out, beyond, mid


def realise(kind, random, falling, phase):
    """Samples in volts, the sample at which the display begins to change, and the size of the step in volts.

    `phase` is where time 0 lies between two samples.
    """
    step_s = 1 / kind.rate
    start = 0 if kind.periodic else round(kind.pre * kind.rate)
    n = int(round((1.0 if kind.periodic else kind.pre + kind.post) * kind.rate))
    t = (np.arange(n) - start + phase - (0 if kind.periodic else 1)) * step_s
    first, last = (kind.high, kind.low) if falling else (kind.low, kind.high)
    if kind.codes:
        dark, full = 0.02, 0.9
        first, last = (dark + full * (c / 255) ** 2.2 for c in kind.codes)
    size = abs(last - first)
    if kind.periodic:
        form, hz, *rest = kind.periodic
        size = 0.5
        if form == "sine":
            volts = size * (1 + rest[0] * np.sin(2 * np.pi * (hz * t + random.random())))
        else:
            volts = size * disturb.pulse_train(t, hz, rest[0], rest[1], random.random())
    else:
        volts = light_of(kind, t, first, last, random)
    if kind.hum:
        hz, share = kind.hum
        volts = volts + share * size * np.sin(2 * np.pi * (hz * t + random.random()))
    if kind.drift:
        volts = volts + kind.drift * size * np.linspace(0, 1, n) * (1 if random.random() < 0.5 else -1)
    if kind.jump:
        at, share = kind.jump
        volts = volts + np.where(t > at * kind.post, share * size * (1 if random.random() < 0.5 else -1), 0.0)
    return volts + size * disturb.noise(random, n, kind.rate, kind.noise), start, size


def ladder_of(kind, random):
    levels = np.round(np.linspace(0, 255, kind.ladder)).astype(int)
    volts = 0.02 + 0.9 * (levels / 255) ** 2.2
    sd = 0.0003
    # Means of 5,000 samples each.
    means = volts + sd / np.sqrt(5000) * random.standard_normal(len(levels))
    return {"steps": [{"level": int(level), "meanV": float(mean), "sdV": sd, "peakToPeakV": 6 * sd}
                      for level, mean in zip(levels, means)], "darkV": 0.02}


def write(folder, index, realisation, kind, volts, size, cell):
    """Codes of the converter, or floats; answers how to read them back."""
    path = os.path.join(folder, f"{index:03d}-{realisation:03d}.bin")
    lsb = kind.range / 32768 if kind.lsbs is None else size / kind.lsbs
    # Where the levels lie between two steps of the converter is the same for every repeat of a cell.
    shift = 0.0 if kind.lsbs is None else cell.random() * lsb
    codes = np.round((volts + shift) / lsb)
    if kind.real32:
        (codes * lsb - shift).astype("<f4").tofile(path)
        return {"file": path, "format": "real32", "scaleV": 1.0, "offsetV": 0.0}
    np.clip(codes, -32768, 32767).astype("<i2").tofile(path)
    return {"file": path, "format": "int16", "scaleV": lsb, "offsetV": -shift}


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("folder")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--realisations", type=int, default=12)
    parser.add_argument("--groups", default="")
    parser.add_argument("--names", default="")
    parser.add_argument("--cells", type=int, default=0, help="realisations of a cell that share what repeats share")
    options = parser.parse_args()
    groups = [g for g in options.groups.split(";") if g]
    jobs, listed = [], []
    for index, kind in enumerate(catalogue.all_kinds()):
        if (groups and kind.group not in groups) or options.names not in f"{kind.group}: {kind.name}":
            continue
        truth, beyond, mid = truth_of(kind)
        truth = {name: truth[name] for name in kind.measures}
        listed.append({"index": index, "group": kind.group, "name": kind.name, "sound": kind.sound, "truth": truth,
                       "beyond": [name for name in beyond if name in kind.measures],
                       "refreshHz": None if kind.periodic else kind.refresh})
        for realisation in range(options.realisations):
            random = np.random.default_rng([options.seed, index, realisation])
            number = realisation // options.cells if options.cells else realisation
            cell = np.random.default_rng([options.seed, index, 1_000_000 + number])
            falling = kind.codes is None and number % 2 == 1
            # Every other pair of cells is triggered by the edge itself: all repeats at one place between two samples.
            phase = cell.random() if options.cells and number % 4 >= 2 else random.random()
            volts, start, size = realise(kind, random, falling, phase)
            stored = write(options.folder, index, realisation, kind, volts, size, cell)
            recipe = dict(kind.recipe)
            if kind.detector and kind.detector[2]:
                recipe["detectorS"] = kind.detector[0]
            levels = kind.codes or ((192, 64) if falling else (64, 192))
            jobs.append({"kind": index, "realisation": realisation, "cell": number, **stored, "rangeV": kind.range,
                         "sampleRateHz": kind.rate, "triggerIndex": start + round(mid * kind.rate), "from": levels[0], "to": levels[1],
                         "refreshHz": None if kind.periodic else kind.refresh, "periodic": kind.periodic is not None,
                         "ladder": ladder_of(kind, cell) if kind.ladder else None, "recipe": recipe})
    with open(os.path.join(options.folder, "manifest.json"), "w", encoding="utf-8") as file:
        json.dump({"seed": options.seed, "numpy": np.__version__, "kinds": listed, "jobs": jobs}, file, default=float)
    print(f"{len(listed)} kinds, {len(jobs)} records, seed {options.seed}", file=sys.stderr)


if __name__ == "__main__":
    main()
