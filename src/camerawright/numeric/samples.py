"""One channel of a recording, wherever it is kept."""

from typing import Protocol

import numpy as np
from numpy.typing import NDArray


class Samples(Protocol):
    """What can be cut into stretches: an array of shape (n,), or a channel that is read from its file as needed."""

    def __len__(self) -> int:
        """How many samples there are."""

    def __getitem__(self, stretch: slice, /) -> NDArray[np.float64]:
        """The samples of a stretch without a step."""
