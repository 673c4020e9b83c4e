"""The kinds of the corpus, by class. What a real detector, backlight and converter do, and sound records beside them."""
import waves as w
from kind import Kind

MS = 1e-3
FIRST = w.first_order(2 * MS)
SLOWER = w.first_order(5 * MS)
COSINE = w.raised_cosine(6 * MS)
RINGING = w.second_order(0.5, 1000)
OVER = w.overdrive_of(0.08, 2 * MS, 6 * MS)
SHAPES = (("first order 2 ms", FIRST), ("raised cosine 6 ms", COSINE), ("damping 0.5", RINGING),
          ("8 % overshoot", OVER), ("first order 5 ms", SLOWER), ("Gaussian", w.gaussian(1 * MS)),
          ("ramp 8 ms", w.ramp(8 * MS)), ("logistic", w.logistic(0.8 * MS)))


def percent(share):
    return f"{100 * share:.3g} %"


def white():
    g = "white noise"
    # Finer than a 32-bit float can hold.
    clean = dict(noise=(), lsbs=1e9, real32=True)
    yield Kind("clean", "first order 2 ms", FIRST, sound=True, **clean)
    yield Kind("clean", "damping 0.5", RINGING, sound=True, **clean)
    for sd in (0.0005, 0.01, 0.02):
        yield Kind(g, f"first order 2 ms, {percent(sd)}", FIRST, sound=True, noise=(("white", sd),))
    for name, wave in SHAPES:
        yield Kind(g, f"{name}, 0.25 %", wave, sound=True)
    for name, wave in SHAPES[1:4]:
        yield Kind(g, f"{name}, 1 %", wave, sound=True, noise=(("white", 0.01),))


def limited():
    g = "noise with a bandwidth"
    for corner in (1000, 3000, 10_000):
        for sd in (0.001, 0.0025, 0.01):
            yield Kind(g, f"first order 2 ms, {percent(sd)} through {corner // 1000} kHz", FIRST, sound=True,
                       noise=(("limited", sd, corner),))
    for name, wave in SHAPES[1:5]:
        yield Kind(g, f"{name}, 0.25 % through 3 kHz", wave, sound=True, noise=(("limited", 0.0025, 3000),))
    yield Kind(g, "first order 2 ms, 0.25 % through four poles of 3 kHz", FIRST, sound=True,
               noise=(("limited", 0.0025, 3000, 4),))
    yield Kind(g, "8 % overshoot, 0.25 % through 3 kHz and 0.1 % white", OVER, sound=True,
               noise=(("limited", 0.0025, 3000), ("white", 0.001)))


def one_over_f():
    g = "1/f noise"
    for sd in (0.001, 0.0025, 0.005, 0.01):
        yield Kind(g, f"first order 2 ms, {percent(sd)}", FIRST, noise=(("flicker", sd), ("white", 0.001)))
    yield Kind(g, "damping 0.5, 0.25 %", RINGING, noise=(("flicker", 0.0025), ("white", 0.001)))
    yield Kind(g, "8 % overshoot, 0.25 % and 0.25 % through 3 kHz", OVER,
               noise=(("flicker", 0.0025), ("limited", 0.0025, 3000)))


def ripple():
    g = "ripple left"
    quiet = (("white", 0.001),)
    for hz, depths in ((120, (0.005, 0.01, 0.02, 0.05, 0.1)), (220, (0.005, 0.01, 0.02, 0.05)), (240, (0.02, 0.1)),
                       (1000, (0.005, 0.02, 0.1))):
        for depth in depths:
            yield Kind(g, f"first order 2 ms, {percent(depth)} at {hz} Hz", FIRST, noise=quiet, ripple=(hz, depth))
    yield Kind(g, "first order 5 ms, 2 % at 220 Hz", SLOWER, noise=quiet, ripple=(220, 0.02))
    for hz, duty, low, refresh in ((240, 0.6, 0.2, 144), (480, 0.5, 0.5, 120), (1000, 0.8, 0.2, 60), (240, 0.9, 0.9, 60)):
        yield Kind("pulse-width modulation left", f"first order 2 ms, {hz} Hz between 1 and {low}, {refresh} Hz refresh",
                   FIRST, noise=quiet, pwm=(hz, duty, low), refresh=refresh)


def removed():
    g = "ripple removed by the recipe"
    quiet = (("white", 0.001),)
    mean = {"condition": {"kind": "one-period-mean", "frequencyHz": None, "periods": 1}}
    divide = {"condition": {"kind": "divide", "frequencyHz": None}}
    # A mean over 4.5 ms broadens; the slow edges here are those for which it is meant.
    yield Kind(g, "raised cosine 40 ms, 5 % at 220 Hz, mean of a period", w.raised_cosine(40 * MS), noise=quiet,
               ripple=(220, 0.05), recipe=mean)
    yield Kind(g, "first order 12 ms, 2 % at 1 kHz, mean of a period", w.first_order(12 * MS), noise=quiet,
               ripple=(1000, 0.02), recipe=mean)
    yield Kind(g, "first order 2 ms, 5 % at 240 Hz, divided", FIRST, noise=quiet, ripple=(240, 0.05), recipe=divide)
    yield Kind(g, "first order 5 ms, 480 Hz between 1 and 0.5, divided", SLOWER, noise=quiet, pwm=(480, 0.5, 0.5),
               detector=(35e-6, 1, False), recipe=divide)
    yield Kind(g, "first order 2 ms, 240 Hz between 1 and 0.2 at 144 Hz, mean of a period", FIRST, noise=quiet,
               pwm=(240, 0.6, 0.2), refresh=144, recipe=mean)


def mains():
    for hz, sizes in ((50, (0.001, 0.002, 0.005, 0.01, 0.02)), (60, (0.005,))):
        for size in sizes:
            yield Kind("hum", f"first order 2 ms, {percent(size)} at {hz} Hz", FIRST, noise=(("white", 0.001),),
                       hum=(hz, size))
    yield Kind("hum", "8 % overshoot, 0.5 % at 50 Hz", OVER, noise=(("white", 0.001),), hum=(50, 0.005))
    for size in (0.003, 0.005, 0.01, 0.02):
        yield Kind("drift and jumps", f"first order 2 ms, drift of {percent(size)}", FIRST, noise=(("white", 0.001),),
                   drift=size)
    for size in (0.003, 0.005, 0.01):
        yield Kind("drift and jumps", f"first order 2 ms, late jump of {percent(size)}", FIRST,
                   noise=(("white", 0.001),), jump=(0.85, size))


def slow_tails():
    g = "slow tails"
    for parts, dwell in ((((0.85, 2), (0.15, 50)), 0.25), (((0.85, 2), (0.15, 100)), 0.25),
                         (((0.85, 2), (0.15, 200)), 0.25), (((0.85, 2), (0.15, 50)), 0.1),
                         (((0.85, 2), (0.15, 100)), 0.1), (((0.85, 2), (0.15, 200)), 0.15),
                         (((0.95, 2), (0.05, 200)), 0.15), (((0.7, 3), (0.3, 100)), 0.25),
                         (((0.98, 2), (0.02, 100)), 0.25), (((0.8, 2), (0.15, 20), (0.05, 100)), 0.25)):
        name = " + ".join(f"{100 * share:.0f} % at {tau} ms" for share, tau in parts)
        yield Kind(g, f"{name} in {1000 * dwell:.0f} ms", w.tails([(s, tau * MS) for s, tau in parts]), post=dwell,
                   noise=(("white", 0.001),))


def strobes():
    g = "strobe"
    # A 5 kHz detector, slow enough for the sample rate; with 20 kHz the energy of a pulse depends on where samples fall.
    slow, fast = (70e-6, 1, False), (18e-6, 1, False)
    base = dict(noise=(("white", 0.001),), measures=("first_pulse_crosstalk_pct",))
    for glow in (0, 0.005, 0.01, 0.02, 0.05, 0.1):
        yield Kind(g, f"first order 1.5 ms, 120 Hz, glow {percent(glow)}", w.first_order(1.5 * MS), refresh=120,
                   strobe=(0.86, 0.1, glow, 0), detector=slow, **base)
    for glow in (0, 0.02):
        yield Kind(g, f"first order 1.5 ms, 120 Hz, glow {percent(glow)}, 20 kHz detector", w.first_order(1.5 * MS),
                   refresh=120, strobe=(0.86, 0.1, glow, 0), detector=fast, **base)
    yield Kind(g, "first order 2 ms, 240 Hz, glow 2 %", FIRST, refresh=240, strobe=(0.86, 0.1, 0.02, 0), detector=slow,
               **{**base, "noise": (("limited", 0.002, 10_000),)})
    yield Kind(g, "first order 1.5 ms, 120 Hz, light decaying with 0.3 ms", w.first_order(1.5 * MS), refresh=120,
               strobe=(0.7, 0.1, 0, 0.3 * MS), detector=slow, **base)


def converter():
    g = "coarse converter"
    for lsbs in (50, 100, 200, 400, 800, 1600, 3200):
        yield Kind(g, f"first order 2 ms, {lsbs} LSB, no dither", FIRST, noise=(("white", 0.02 / lsbs),), lsbs=lsbs)
    for lsbs in (50, 200, 800):
        yield Kind(g, f"first order 2 ms, {lsbs} LSB, 0.5 LSB noise", FIRST, noise=(("white", 0.5 / lsbs),), lsbs=lsbs)
    for lsbs in (100, 400):
        yield Kind(g, f"first order 2 ms, {lsbs} LSB, 0.2 LSB noise", FIRST, noise=(("white", 0.2 / lsbs),), lsbs=lsbs)
    for lsbs in (100, 800):
        yield Kind(g, f"8 % overshoot, {lsbs} LSB as floats, no dither", OVER, noise=(("white", 0.02 / lsbs),),
                   lsbs=lsbs, real32=True)


def overshoots():
    for share in (0.01, 0.025, 0.05, 0.1, 0.2, 0.4):
        yield Kind("overshoot at a corner", f"boosted frame, {percent(share)}", w.boosted_frame(share, 5 * MS, 1 / 60),
                   sound=share >= 0.05)
    yield Kind("overshoot at a corner", "boosted frame, 10 %, 0.25 % through 3 kHz", w.boosted_frame(0.1, 5 * MS, 1 / 60),
               sound=True, noise=(("limited", 0.0025, 3000),))
    yield Kind("overshoot at a corner", "boosted frame of 144 Hz, 20 %, clean", w.boosted_frame(0.2, 3 * MS, 1 / 144),
               sound=True, refresh=144, noise=(), lsbs=1e9, real32=True)
    for share in (0.01, 0.02, 0.05, 0.1, 0.2, 0.4):
        yield Kind("smooth overshoot", percent(share), w.overdrive_of(share, 2 * MS, 6 * MS), sound=True,
                   noise=(("white", 0.001),))
    for share in (0.0305, 0.032, 0.0334):
        yield Kind("overshoot near the band", percent(share), w.overdrive_of(share, 2 * MS, 6 * MS))
    for damping in (0.15, 0.3, 0.4, 0.7):
        yield Kind("ringing", f"damping {damping}", w.second_order(damping, 1500), sound=True)
    yield Kind("ringing", "damping 0.3, 0.25 % through 3 kHz", w.second_order(0.3, 1500), sound=True,
               noise=(("limited", 0.0025, 3000),))
    for first, refresh in ((0.6, 60), (0.75, 120)):
        yield Kind("corner at the frame's end", f"first frame driven to {percent(first)}, {refresh} Hz",
                   w.two_frames(first, 0.25 / refresh, 1 / refresh), refresh=refresh, noise=(("white", 0.001),))


def coarse_time():
    g = "few samples"
    for count in (3, 4, 5, 6, 8, 10, 15, 20):
        # 10–90 % of a raised cosine is 0.590334 of its length.
        yield Kind(g, f"raised cosine, {count} in 10–90 %", w.raised_cosine(2 * MS / 0.590334), rate=count / (2 * MS))
    for count in (3, 5, 10, 20):
        yield Kind(g, f"first order, {count} in 10–90 %", w.first_order(2 * MS / 2.197225), rate=count / (2 * MS))
    for count in (6, 12):
        yield Kind(g, f"damping 0.5, {count} in 10–90 %", w.second_order(0.5, 1.637573 / (2 * MS)), rate=count / (2 * MS))


def detectors():
    g = "slow detector, stated"
    for ratio in (0.1, 0.2, 0.3, 0.4, 0.5):
        yield Kind(g, f"first order 2 ms, {ratio} of it, one pole", FIRST, detector=(ratio * 2.197225 * 2 * MS, 1, True))
    for ratio in (0.1, 0.2, 0.3, 0.5):
        yield Kind(g, f"first order 2 ms, {ratio} of it, four poles", FIRST,
                   detector=(ratio * 2.197225 * 2 * MS, 4, True))
    for ratio in (0.2, 0.5):
        yield Kind(g, f"raised cosine 6 ms, {ratio} of it, one pole", COSINE,
                   detector=(ratio * 0.590334 * 6 * MS, 1, True))
    yield Kind(g, "damping 0.5, 0.3 of it, one pole", RINGING, detector=(0.3 * 1.637573 * MS, 1, True))


def records():
    for pre in (0.5, 1, 2, 5):
        yield Kind("short pre-trigger", f"first order 2 ms, {pre} ms", FIRST, pre=pre * MS)
    yield Kind("short pre-trigger", "damping 0.5, 1 ms, 0.25 % through 3 kHz", RINGING, pre=1 * MS,
               noise=(("limited", 0.0025, 3000),))
    g = "dwell"
    yield Kind(g, "first order 5 ms in 40 ms", SLOWER, post=0.04)
    yield Kind(g, "first order 2 ms in 25 ms", FIRST, post=0.025)
    yield Kind(g, "first order 2 ms in 1 s", FIRST, post=1.0)
    yield Kind(g, "first order 0.5 ms in 250 ms", w.first_order(0.5 * MS))
    yield Kind(g, "first order 30 ms in 250 ms", w.first_order(30 * MS))
    g = "black at 0 V"
    zero = dict(low=0.0, high=0.4)
    yield Kind(g, "0.25 % white", FIRST, **zero)
    yield Kind(g, "0.25 % through 3 kHz", FIRST, noise=(("limited", 0.0025, 3000),), **zero)
    yield Kind(g, "0.25 % of 1/f", FIRST, noise=(("flicker", 0.0025), ("white", 0.001)), **zero)
    yield Kind(g, "0.5 % hum at 50 Hz", FIRST, noise=(("white", 0.001),), hum=(50, 0.005), **zero)
    yield Kind(g, "5 % ripple at 240 Hz", FIRST, noise=(("white", 0.001),), ripple=(240, 0.05), **zero)


def in_codes():
    g = "codes through a ladder"
    only = ("overshoot_pct", "overshoot_code")
    for codes, steps in (((64, 128), 9), ((128, 192), 9), ((32, 96), 5), ((96, 224), 17)):
        yield Kind(g, f"{codes[0]} to {codes[1]}, ladder of {steps}, 10 % overshoot", w.overdrive_of(0.1, 2 * MS, 6 * MS),
                   codes=codes, ladder=steps, noise=(("white", 0.001),), measures=only)


def flickers():
    g = "flicker"
    base = ("fundamental_hz", "percent_flicker_pct", "flicker_index", "svm")
    for depth, sd, hz in ((0.01, 0.05, 120), (0.01, 0.005, 120), (0.1, 0.02, 100), (0.3, 0.01, 1000), (0.02, 0.02, 97.3)):
        yield Kind(g, f"sine {percent(depth)} at {hz} Hz, {percent(sd)} noise", periodic=("sine", hz, depth),
                   noise=(("white", sd),), measures=base)
    yield Kind(g, "square, duty 0.4 between 1 and 0.5, 240 Hz, 1 % noise", periodic=("square", 240, 0.4, 0.5),
               noise=(("white", 0.01),), measures=base)


def mixtures():
    g = "several at once"
    real = (("limited", 0.002, 10_000), ("white", 0.0005))
    yield Kind(g, "8 % overshoot, noise through 10 kHz, 1/f, 0.2 % hum", OVER, hum=(50, 0.002),
               noise=(*real, ("flicker", 0.001)))
    yield Kind(g, "first order 2 ms, noise through 10 kHz, 1 % at 240 Hz, 400 LSB", FIRST, ripple=(240, 0.01), lsbs=400,
               noise=real)
    yield Kind(g, "boosted frame 10 %, noise through 10 kHz, 5 % tail of 80 ms",
               w.mix(w.boosted_frame(0.1, 5 * MS, 1 / 60), 0.05, w.first_order(80 * MS)), noise=real)
    yield Kind(g, "first order 2 ms, 8 in 10–90 %, 200 LSB, 0.3 % hum", FIRST, rate=8 / (2.197225 * 2 * MS), lsbs=200,
               hum=(50, 0.003), noise=(("white", 0.001),))


def all_kinds():
    makers = (white, limited, one_over_f, ripple, removed, mains, slow_tails, strobes, converter, overshoots, coarse_time,
              detectors, records, in_codes, flickers, mixtures)
    kinds = [kind for maker in makers for kind in maker()]
    names = [(kind.group, kind.name) for kind in kinds]
    assert len(set(names)) == len(names), "two kinds of one name"
    return kinds
