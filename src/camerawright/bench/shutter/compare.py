"""The firings of a recording against a marked speed."""

from camerawright.bench import comparison
from camerawright.bench.comparison import Comparison
from camerawright.bench.shutter.result import ShutterResult
from camerawright.handbook.tolerances import Profile

_SHARED = frozenset({"timing", "AC model", "sensor lag", "sensor linearity", "lossy coding", "level"})


def compare(result: ShutterResult, marked: str, profile: Profile) -> Comparison:
    """Compare every firing's effective time, and their mean, with a marked speed.

    Raises
    ------
    NotASpeed
        `marked` cannot be read.
    """
    return comparison.compare([firing.effective for firing in result.firings], marked, profile, shared=_SHARED)
