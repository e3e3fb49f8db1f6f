"""Looks at a recording as it grows: firings told as they are fired."""

import threading
import time
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from camerawright.bench.contract import BenchTest, Fired
from camerawright.bench.record import Record
from camerawright.handbook.tolerances import Profile
from camerawright.readings.set_up import told_options
from camerawright.recordings.live import Recorder
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotUnderstood

_LOOK_S: Final = 0.3
_LONGEST_S: Final = 12.0  # of sound looked at: the slowest speed with dark on both sides
_DARK_S: Final = 0.5  # after a firing, before it is told
_BETWEEN_S: Final = 0.05


class Watch:
    """Looks at a recording as it grows, with the bench test itself, and tells each firing once.

    What it tells is for the eye: the reading is computed from the whole recording when that has ended.
    """

    def __init__(
        self,
        recorder: Recorder,
        test: BenchTest[Any],
        marked: str | None,
        profile: Profile,
        options: Mapping[str, str] | None = None,
    ) -> None:
        self._recorder, self._test, self._marked, self._profile = recorder, test, marked, profile
        self._options = told_options(test, options or {})
        self._from = 0
        self._fired: tuple[Fired, ...] = ()
        self._why: str | None = None
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._watch, name="watch", daemon=True)

    @property
    def fired(self) -> tuple[Fired, ...]:
        """The firings so far."""
        return self._fired

    @property
    def why_not(self) -> str | None:
        """Why the last look found none, in the test's words."""
        return self._why

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self) -> None:
        """Look no more."""
        self._ended.set()
        self._thread.join()

    def look(self) -> None:
        """Look at what is new once."""
        rate_hz = self._recorder.source.rate_hz
        n = self._recorder.meter().n_samples
        start, sound = self._recorder.heard(max(self._from, n - round(_LONGEST_S * rate_hz)))
        if sound.duration_s < 2 * _DARK_S:
            return
        record = self._seen(sound)
        if record is None:
            return
        self._why = record.refused.reason if record.refused else None
        for one in self._test.fired(record) if self._test.fired else ():
            if one.stop_s + _DARK_S > sound.duration_s:
                break
            self._fired += (replace(one, at_s=start / rate_hz + one.at_s, stop_s=start / rate_hz + one.stop_s),)
            self._from = start + round((one.stop_s + _BETWEEN_S) * rate_hz)

    def _seen(self, sound: Waveform) -> Record | None:
        """What the test makes of it; of several marked speeds not all may have been fired yet."""
        for marked in (self._marked, None):
            try:
                found: Record = self._test.run(sound, marked, self._profile, **self._options)
            except NotUnderstood as bad:
                self._why = str(bad)
            else:
                return found
        return None

    def _watch(self) -> None:
        took_s = 0.0
        while not self._ended.wait(max(_LOOK_S, 3 * took_s)):  # a slow machine looks less often
            begun_s = time.monotonic()
            self.look()
            took_s = time.monotonic() - begun_s
