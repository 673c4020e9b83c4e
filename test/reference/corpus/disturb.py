"""What a bench adds to light: noise of several spectra, ripple, hum, drift, a detector, a converter."""
import numpy as np
from scipy import signal


def white(random, n):
    return random.standard_normal(n)


def limited(random, n, corner_hz, rate, poles=1):
    """White noise through equal one-pole low-passes, then sampled; standard deviation 1 at the samples.

    One pole is exactly an autoregression of the first order. More poles run on a grid eight times finer.
    """
    if poles == 1:
        phi = np.exp(-2 * np.pi * corner_hz / rate)
        drive = random.standard_normal(n)
        drive[1:] *= np.sqrt(1 - phi * phi)
        return signal.lfilter([1.0], [1.0, -phi], drive)
    fine = 8
    warm = int(np.ceil(20 * rate / (2 * np.pi * corner_hz))) * fine
    out = random.standard_normal(n * fine + warm)
    phi = np.exp(-2 * np.pi * corner_hz / (rate * fine))
    for _ in range(poles):
        out = signal.lfilter([1 - phi], [1.0, -phi], out)
    impulse = np.zeros(max(4096, 2 * warm))
    impulse[0] = 1
    for _ in range(poles):
        impulse = signal.lfilter([1 - phi], [1.0, -phi], impulse)
    return out[warm::fine][:n] / np.sqrt(np.sum(impulse ** 2))


def flicker(random, n):
    """1/f noise, one-sided density 1/f at a sampling rate of 1, over periods up to four times the record."""
    long = 4 * n
    k = np.arange(1, long // 2 + 1)
    spectrum = np.zeros(long // 2 + 1, dtype=complex)
    spectrum[1:] = (random.standard_normal(len(k)) + 1j * random.standard_normal(len(k))) * np.sqrt(long / (4 * k / long))
    out = np.fft.irfft(spectrum, long)[:n] / np.sqrt(long)
    return out - out.mean()


def noise(random, n, rate, parts):
    """Sum of (kind, standard deviation, corner Hz, poles); 1/f takes the density's root at 1 Hz as its size."""
    out = np.zeros(n)
    for kind, size, *rest in parts:
        if kind == "white":
            out += size * white(random, n)
        elif kind == "limited":
            out += size * limited(random, n, rest[0], rate, rest[1] if len(rest) > 1 else 1)
        elif kind == "flicker":
            # Of the record itself, so that "1 %" means that its 1/f part has that standard deviation.
            part = flicker(random, n)
            out += size * part / part.std()
        else:
            raise ValueError(kind)
    return out


def pulse_train(t, hz, duty, low, phase):
    """1 for a share `duty` of each period, `low` for the rest."""
    return np.where((t * hz + phase) % 1.0 < duty, 1.0, low)


def through_detector(light, step_s, tau, poles):
    """Equal one-pole low-passes on a fine grid, exact for light that is linear between its points."""
    a = tau / step_s
    p = np.exp(-1 / a)
    out = light
    for _ in range(poles):
        start = out[0]
        out = start + signal.lfilter([1 - a * (1 - p), a * (1 - p) - p], [1.0, -p], out - start)
    return out
