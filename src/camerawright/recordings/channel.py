"""One channel of a sound recording, in memory or in its file, read in stretches as they are needed."""

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from camerawright.recordings.scan import Scan


class Recording(Protocol):
    """A sound recording, in memory or in its file, as the bench tests that read it in stretches need it."""

    @property
    def rate_hz(self) -> float:
        """Sampling rate."""

    @property
    def bits(self) -> int | None:
        """Depth of integer samples; None if the file holds floats or is lossy."""

    @property
    def is_lossy(self) -> bool:
        """Whether the file holds less than was recorded."""

    @property
    def n_channels(self) -> int:
        """How many channels there are."""

    @property
    def n_samples(self) -> int:
        """How many samples a channel has."""

    def stretch(self, i_channel: int, start: int, stop: int) -> NDArray[np.float32]:
        """Read a part of one channel; shape (stop - start,), or less at the end."""

    def scan(self, width: int) -> Scan:
        """Look through the whole recording in means over `width` samples."""


ENOUGH_RATE_HZ = 44_100.0
"""At twice this rate and more, samples are averaged in groups: blades and curtains are slow."""


def together(rate_hz: float) -> int:
    """How many samples of a recording at this rate are averaged into one."""
    return max(1, int(rate_hz // ENOUGH_RATE_HZ))


class Channel:
    """One channel of a recording, upright, read in stretches as they are needed.

    Each of its samples is the mean of `over` recorded ones, and its rate is so much lower.
    """

    def __init__(self, recording: Recording, i_channel: int, sign: float = 1.0, over: int = 1) -> None:
        self._recording, self._i_channel, self._sign, self._over = recording, i_channel, sign, over
        self.rate_hz = recording.rate_hz / over

    def __len__(self) -> int:
        """How many samples there are."""
        return self._recording.n_samples // self._over

    def __getitem__(self, stretch: slice, /) -> NDArray[np.float64]:
        """Read the samples of a stretch."""
        start, stop, _ = stretch.indices(len(self))
        taken = self._recording.stretch(self._i_channel, start * self._over, stop * self._over)
        fine = taken.astype(np.float64) * self._sign
        return fine if self._over == 1 else np.asarray(fine.reshape(-1, self._over).mean(axis=1))

    def raw(self, start: int, stop: int) -> NDArray[np.float32]:
        """Read a stretch as it was recorded: with its own sign, no samples averaged."""
        return self._recording.stretch(self._i_channel, start * self._over, stop * self._over)
