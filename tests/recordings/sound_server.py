"""A sound server of our own, with an output whose sound comes back as an input: as a cable from one to the other."""

import os
import shutil
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import pytest

from camerawright.recordings.kept import PART

NEEDED: Final = ("pulseaudio", "pactl", "paplay")
MISSING: Final = f"no {', '.join(NEEDED)} on this machine: sudo apt-get install pulseaudio pulseaudio-utils"
INPUT: Final = "Monitor of Bench"


def is_there() -> bool:
    """Whether a sound server can be started here."""
    return all(map(shutil.which, NEEDED))


@contextmanager
def sound_server(folder: Path, rate_hz: int = 48_000, n_channels: int = 2) -> Iterator[None]:
    """Start one in a folder of its own, which no other program knows; what asks for sound in here asks it.

    Parameters
    ----------
    rate_hz, n_channels
        What its only input delivers, as 16-bit samples. It would convert to anything else without a word.
    """
    socket = folder / "native"
    places = dict.fromkeys(("HOME", "XDG_RUNTIME_DIR", "PULSE_RUNTIME_PATH", "PULSE_STATE_PATH"), str(folder))
    sink = f"rate={rate_hz} channels={n_channels} format=s16le sink_properties=device.description=Bench"
    server = subprocess.Popen(
        (
            *("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--disable-shm=yes"),
            f"--load=module-native-protocol-unix socket={socket} auth-anonymous=1",
            f"--load=module-null-sink sink_name=bench {sink}",
        ),
        env={**os.environ, **places},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("PULSE_SERVER", f"unix:{socket}")
            patch.setenv("HOME", str(folder))
            _wait_until_it_answers(server)
            yield
    finally:
        server.terminate()
        server.wait(10)


def _wait_until_it_answers(server: subprocess.Popen[bytes]) -> None:
    end = time.monotonic() + 20
    while subprocess.run(("pactl", "info"), capture_output=True, check=False).returncode:
        assert server.poll() is None, "the sound server ended by itself"
        assert time.monotonic() < end, "the sound server does not answer"
        time.sleep(0.1)


@contextmanager
def played(path: Path, when_recorded_in: Path) -> Iterator[None]:
    """Play a file into the server's output, once something is being recorded in a folder.

    It is played far ahead, so that a busy machine tears nothing.
    """
    done = threading.Event()

    def play() -> None:
        while not any(when_recorded_in.glob(f"{PART}*.flac")):
            if done.wait(0.05):
                return
        time.sleep(0.5)
        subprocess.run(("paplay", "--device=bench", "--latency-msec=3000", str(path)), check=False, timeout=60)

    player = threading.Thread(target=play)
    player.start()
    try:
        yield
    finally:
        done.set()
        player.join()
