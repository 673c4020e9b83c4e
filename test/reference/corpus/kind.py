"""One kind of waveform: a closed form and what a bench does to it. Realisations differ in noise, phase and direction."""
from dataclasses import dataclass, field

STEP_MEASURES = ("transition_duration_s", "arrival_s", "settling_s", "overshoot_pct", "undershoot_pct",
                 "integrated_error_s", "first_frame_completion_pct", "in_window", "blur_edge_s")


@dataclass(frozen=True)
class Kind:
    group: str
    name: str
    wave: object = None
    #: Nothing is wrong with the record: any flag on it is a false one.
    sound: bool = False
    rate: float = 50_000.0
    #: Recorded before and after the display begins to change, s.
    pre: float = 0.05
    post: float = 0.25
    refresh: float = 60.0
    #: Volts before and after (exchanged in every second realisation), and the converter's range.
    low: float = 0.2
    high: float = 0.6
    range: float = 1.0
    #: Parts of the noise: (kind, standard deviation as a share of the step, corner Hz, poles).
    noise: tuple = (("white", 0.0025),)
    #: Light is multiplied by 1 + depth·sin(2π·hz·t): (hz, depth). Free of the frame clock.
    ripple: tuple = None
    #: Backlight switched between 1 and `low`: (hz, duty, low).
    pwm: tuple = None
    #: Added mains: (hz, peak as a share of the step).
    hum: tuple = None
    #: Added straight line over the whole record, share of the step; added jump: (share of the dwell, share of the step).
    drift: float = 0.0
    jump: tuple = None
    #: Strobe: (start of the pulse and its width as shares of the frame, glow between, decay of the light in s or 0).
    strobe: tuple = None
    #: Detector: (10–90 % duration in s, poles, told to the program).
    detector: tuple = None
    #: Steps of the converter in the step (None: 16 bits of the range); real32 hides the converter behind floats.
    lsbs: float = None
    real32: bool = False
    recipe: dict = field(default_factory=dict)
    #: Grey levels of the step, with a ladder of this many equally spaced codes of a pure 2.2 power law.
    codes: tuple = None
    ladder: int = 0
    #: Periodic light instead of a step: (form, hz, depth or duty and low).
    periodic: tuple = None
    measures: tuple = STEP_MEASURES
