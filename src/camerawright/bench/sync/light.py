"""The light's channel of a sync recording: the contact's part taken off, one opening after another measured."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.sync.channels import Channels, crosstalk
from camerawright.numeric.clipping import n_clipped
from camerawright.numeric.coupling import Coupling, identify
from camerawright.numeric.firings import Span
from camerawright.numeric.noise import Noise, noise_between
from camerawright.numeric.pulse import Pulse
from camerawright.numeric.samples import Samples
from camerawright.numeric.window import Window
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

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
class _Apart:
    """The light less what of the contact leaks into it."""

    light: Samples
    contact: Samples
    leak: float

    def __len__(self) -> int:
        return len(self.light)

    def __getitem__(self, stretch: slice, /) -> Floats:
        return np.asarray(self.light[stretch] - self.leak * self.contact[stretch])


@dataclass(frozen=True)
class Light:
    """The light's channel, the contact's part in it taken off."""

    level: Samples
    channels: Channels
    rate_hz: float
    coupling: Coupling
    noise: Noise
    leak: float  # what of the contact was taken off it, of the light's whole swing
    u_leak: float  # u of what is left of the contact in it, of the contact's height

    @classmethod
    def of(cls, channels: Channels) -> "Light":
        """Identify, take the crosstalk off, identify again."""
        rate_hz, bits, spans = channels.recording.rate_hz, channels.recording.bits, channels.found.spans
        coupling = identify(channels.light, rate_hz, spans)
        leak, u_leak = crosstalk(channels, noise_between(channels.light, rate_hz, spans, coupling, bits).sigma)
        part = abs(leak) * channels.swing(1 - channels.i_light) / max(channels.swing(channels.i_light), 1e-12)
        level = _Apart(channels.light, channels.contact, leak)
        coupling = identify(level, rate_hz, spans)
        noise = noise_between(level, rate_hz, spans, coupling, bits)
        return cls(level, channels, rate_hz, coupling, noise, part, u_leak)

    @property
    def spans(self) -> tuple[Span, ...]:
        """When the shutter was open, roughly."""
        return self.channels.found.spans

    def seen(self, i: int) -> Seen:
        """One opening, or why not."""
        window = Window(self.level, self.rate_hz, self.spans, i, self.coupling)
        window.refuse_without_dark()
        scan, i_light = self.channels.scan, self.channels.i_light
        raw = self.channels.light.raw(window.start, window.stop)
        if n_clipped(raw, scan.low[i_light], scan.high[i_light], self.channels.recording.bits) > MOST_CLIPPED:
            raise NotMeasurable("the light of this firing is clipped", "Lower the gain or the light, and record again")
        pulse = window.pulse(self.noise)
        snr_db = 20 * math.log10(pulse.level / self.noise.sigma) if self.noise.sigma > 0 else math.inf
        if snr_db < MIN_LIGHT_DB:
            raise NotMeasurable(
                f"the light stands only {numbers.fixed(snr_db, 0)} dB above the noise", "Raise the light or the gain"
            )
        return Seen(window, pulse, window.start / self.rate_hz, snr_db)
