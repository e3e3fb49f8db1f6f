"""The light's channel of a sync recording: the contact's part taken off, one opening after another measured."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.sync.channels import crosstalk
from camerawright.numeric.clipping import n_clipped
from camerawright.numeric.coupling import Coupling, identify
from camerawright.numeric.firings import Span
from camerawright.numeric.no_answer import NoAnswer
from camerawright.numeric.noise import Noise, noise_between
from camerawright.numeric.pulse import Pulse
from camerawright.numeric.window import Window
from camerawright.recordings.sound import Waveform

Floats = NDArray[np.float64]

MIN_LIGHT_DB = 34.0
"""Below, noise moves the 95 % of full light by more than its budget says."""
MOST_CLIPPED = 2


@dataclass(frozen=True)
class Seen:
    """One opening, measured."""

    window: Window
    pulse: Pulse
    start_s: float
    snr_db: float

    @property
    def half_up_s(self) -> float:
        """Where the light passed half, from the start of the recording."""
        return self.start_s + self.pulse.half_up_s

    @property
    def half_down_s(self) -> float:
        """Where it passed half again."""
        return self.start_s + self.pulse.half_down_s


@dataclass(frozen=True)
class Light:
    """The light's channel, the contact's part in it taken off."""

    level: Floats
    spans: tuple[Span, ...]
    rate_hz: float
    coupling: Coupling
    noise: Noise
    leak: float  # what of the contact was taken off it, of the light's whole swing
    u_leak: float  # u of what is left of the contact in it, of the contact's height

    @classmethod
    def of(cls, light: Floats, contact: Floats, spans: tuple[Span, ...], waveform: Waveform) -> "Light":
        """Identify, take the crosstalk off, identify again."""
        coupling = identify(light, waveform.rate_hz, spans)
        noise = noise_between(light, waveform.rate_hz, spans, coupling, waveform.bits)
        leak, u_leak = crosstalk(light, contact, noise.sigma)
        part = abs(leak) * float(np.ptp(contact)) / max(float(np.ptp(light)), 1e-12)
        light = light - leak * contact
        coupling = identify(light, waveform.rate_hz, spans)
        noise = noise_between(light, waveform.rate_hz, spans, coupling, waveform.bits)
        return cls(light, spans, waveform.rate_hz, coupling, noise, part, u_leak)

    def seen(self, i: int, raw: NDArray[np.float32], bits: int | None) -> Seen:
        """One opening, or why not."""
        window = Window(self.level, self.rate_hz, self.spans, i, self.coupling)
        window.refuse_without_dark()
        stretch = raw[window.start : window.stop]
        if n_clipped(stretch, float(raw.min()), float(raw.max()), bits) > MOST_CLIPPED:
            raise NoAnswer("the light of this firing is clipped", "Lower the gain or the light, and record again")
        pulse = window.pulse(self.noise)
        snr_db = 20 * math.log10(pulse.level / self.noise.sigma) if self.noise.sigma > 0 else math.inf
        if snr_db < MIN_LIGHT_DB:
            raise NoAnswer(f"the light stands only {snr_db:.0f} dB above the noise", "Raise the light or the gain")
        return Seen(window, pulse, window.start / self.rate_hz, snr_db)
