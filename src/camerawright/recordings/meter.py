"""The level of a running recording, and what it lost."""

from dataclasses import dataclass

import numpy as np

from camerawright.recordings.inputs import Block


@dataclass(frozen=True, kw_only=True)
class Meter:
    """The state of a recording.

    Attributes
    ----------
    peak, rms
        Peak and rms of the last 0.3 s, over all channels. [full scale = 1]
    highest
        The highest peak so far. [full scale = 1]
    n_clipped
        Samples at full scale so far.
    n_overruns
        Blocks that were lost because the disk or the machine did not keep up.
    n_dropouts
        Runs of exact zeros of 1 ms and more: sound systems fill in zeros for missing samples.
    n_inexact
        Samples with more than 24 bits; the file cannot hold their last bits.
    error
        Why the recording ended by itself; None while all is well.
    """

    n_samples: int = 0
    duration_s: float = 0.0
    peak: float = 0.0
    rms: float = 0.0
    highest: float = 0.0
    n_clipped: int = 0
    n_overruns: int = 0
    n_dropouts: int = 0
    n_inexact: int = 0
    error: str | None = None

    @property
    def flags(self) -> tuple[str, ...]:
        """What is doubtful about the recording."""
        told = (
            (self.n_clipped, f"Clipped at {self.n_clipped} samples: lower the gain or the light."),
            (self.n_overruns, f"{self.n_overruns} blocks were lost: close other programs, and record again."),
            (self.n_dropouts, f"{self.n_dropouts} gaps of exact zeros: samples are missing there; record again."),
            (self.n_inexact, f"{self.n_inexact} samples had more than 24 bits and were cut to them."),
        )
        return tuple(words for n, words in told if n) + ((self.error,) if self.error else ())


class Zeros:
    """Counts runs of exact zeros on all channels, across blocks; none counts before the first sound."""

    def __init__(self, least: int) -> None:
        self._least, self._run, self._is_begun = max(1, least), 0, False
        self.n_zero = 0

    def gaps(self, block: Block) -> int:
        """Count the runs that became long enough in this block."""
        is_sound = block.any(axis=1)
        if not self._is_begun and not is_sound.any():
            return 0
        edges = np.flatnonzero(is_sound)
        self.n_zero += len(block) - len(edges)
        if not len(edges):
            runs = [(self._run, self._run + len(block))]
            self._run += len(block)
        else:
            inner = np.diff(edges) - 1
            first = (self._run, self._run + int(edges[0])) if self._is_begun else (0, 0)
            self._run = len(block) - 1 - int(edges[-1])
            runs = [first, *((0, int(each)) for each in inner[inner > 0]), (0, self._run)]
        self._is_begun = True
        return sum(before < self._least <= after for before, after in runs)
