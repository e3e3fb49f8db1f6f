"""Where live sound comes from and goes to: the inputs and the output of sound cards, or a file played as an input.

The only place that uses the library for live sound.
"""

import threading
import time
from collections.abc import Callable, Generator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Protocol

import numpy as np
import soundfile
from numpy.typing import NDArray

from camerawright.trouble import Unreadable
from camerawright.wording.numbers import counted, short

Block = NDArray[np.int32]
"""Samples, shape (n, channels); full scale is 2**31 for a converter of any depth."""
Take = Callable[[Block], None]

_BUFFER_MS: Final = 20
_USUAL_RATE_HZ: Final = 48_000  # fast enough for every leaf shutter, and every sound card has it
MUTE: Final = "it names no format that keeps every sample"
_NO_DEVICE: Final = b"null"  # ALSA's device that records nothing
_FORMATS: Final = {
    "16-bit Signed Integer": ("SIGNED16", 16),
    "24-bit Signed Integer (Tightly Packed)": ("SIGNED24", 24),
    "32-bit Signed Integer": ("SIGNED32", 32),
    "32-bit IEEE Floating Point": ("FLOAT32", 32),
}
_PREFERRED: Final = ("SIGNED24", "SIGNED32", "FLOAT32", "SIGNED16")
"""Formats that hold 24 bits come before others, integers before floats."""


@dataclass(frozen=True, kw_only=True)
class Format:
    """A format that an input delivers itself, without conversion; `n_channels` 0 stands for any number."""

    name: str
    bits: int
    rate_hz: int
    n_channels: int


@dataclass(frozen=True, kw_only=True)
class Input:
    """An input of a sound card, by the name that the system gives it."""

    name: str
    system: str
    formats: tuple[Format, ...]

    @property
    def own(self) -> tuple[str, ...]:
        """What it supports itself, in words: for each number of channels the rates, highest first."""
        rates: dict[int, set[int]] = {}
        for each in self.formats:
            rates.setdefault(each.n_channels, set()).add(each.rate_hz)
        return tuple(
            f"{counted(n, 'channel') if n else 'any number of channels'} at "
            f"{', '.join(short(rate / 1000) for rate in sorted(rates[n], reverse=True))} kHz"
            for n in sorted(rates)
        )

    def best(self, wanted: "Wanted") -> Format | None:
        """The format to record in; None if the input supports none such itself.

        What was not chosen is taken as the input has it: the fewest channels that are enough, the usual rate or the one
        nearest to it, the deepest samples. Every channel costs room and none is lost, so fewer is better.
        """
        fit = [each for each in self.formats if wanted.suits(each)]
        return min(fit, key=wanted.rank, default=None)


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What is wanted of an input; None leaves the choice to what the input has.

    `n_least` is how many channels the bench test needs.
    """

    rate_hz: int | None = None
    n_channels: int | None = None
    n_least: int = 1

    def suits(self, own: Format) -> bool:
        """Whether a format is so."""
        if self.rate_hz not in (None, own.rate_hz):
            return False
        if own.n_channels == 0:
            return True
        return own.n_channels == self.n_channels if self.n_channels else own.n_channels >= self.n_least

    def rank(self, own: Format) -> tuple[int, int, int]:
        """Its place among those that suit, lowest first."""
        return self.channels_of(own), abs(own.rate_hz - _USUAL_RATE_HZ), _PREFERRED.index(own.name)

    def channels_of(self, own: Format) -> int:
        """How many channels are recorded in a format."""
        return own.n_channels or self.n_channels or self.n_least

    def __str__(self) -> str:
        parts = (
            counted(self.n_channels, "channel") if self.n_channels else f"{self.n_least} or more channels",
            f"at {self.rate_hz} Hz" if self.rate_hz else "",
        )
        return " ".join(part for part in parts if part)


class NoInput(Unreadable):
    """There is nothing to record from, or it may not be used."""


class Source(Protocol):
    """What a recorder records: a sound card, or a file played in its place.

    `bits` is the depth that the file gets; `is_real` is false for a file that is played.
    """

    name: str
    rate_hz: int
    n_channels: int
    bits: int
    is_real: bool

    def start(self, take: Take) -> None:
        """Begin; the source calls `take` with every block, from a thread of its own."""

    def stop(self) -> None:
        """End; no block comes after this has returned."""

    @property
    def is_over(self) -> bool:
        """Whether it ended by itself."""


def inputs() -> tuple[Input, ...]:
    """List the inputs of this machine's sound cards; empty if there is no sound card.

    One that does not say what it supports hides none of the others: it comes last, without formats.

    Raises
    ------
    NoInput
        The sound system does not answer.
    """
    import miniaudio  # type: ignore[import-untyped]  # noqa: PLC0415  opens the sound system

    try:
        devices = _devices()
        found = devices.get_captures()
    except miniaudio.MiniaudioError as error:
        raise NoInput(
            f"the sound system does not answer ({error})", "plug a sound card in, and see that it works", "sound inputs"
        ) from None
    listed = (
        Input(name=each["name"], system=devices.backend, formats=_formats(each["formats"]))
        for each in found
        if not _is_null(each["id"])
    )
    return tuple(sorted(listed, key=lambda each: not each.formats))


def _devices() -> Any:
    """The devices of the first sound system that is there; one that does not answer has no formats."""
    import miniaudio  # noqa: PLC0415

    class Devices(miniaudio.Devices):  # type: ignore[misc]  # untyped
        def _get_info(self, device_type: Any, device_info: Any) -> dict[str, Any]:
            try:
                return dict(super()._get_info(device_type, device_info))
            except miniaudio.MiniaudioError:
                return {"formats": []}

    real = [each for each in miniaudio.Backend if each is not miniaudio.Backend.NULL]
    return Devices(real)


def _is_null(device_id: Any) -> bool:
    """Whether a device is not a real one."""
    import miniaudio  # noqa: PLC0415

    return bytes(miniaudio.ffi.buffer(device_id)).rstrip(b"\0") == _NO_DEVICE


def _formats(told: list[dict[str, Any]]) -> tuple[Format, ...]:
    """Choose the formats that keep every bit and that FLAC can hold."""
    return tuple(
        Format(name=name, bits=bits, rate_hz=each["samplerate"], n_channels=each["channels"])
        for each in told
        if each["format"] in _FORMATS and each["samplerate"] >= 22_050
        for name, bits in [_FORMATS[each["format"]]]
    )


class SoundCard:
    """An input of a sound card, in a format that it supports itself, so that nothing is converted on the way.

    Raises
    ------
    NoInput
        It is gone, another program uses it, this one may not use it, or it would have to convert.
    """

    is_real = True
    is_over = False

    def __init__(self, name: str, wanted: Wanted) -> None:
        import miniaudio  # noqa: PLC0415

        there = inputs()
        found = next((each for each in there if each.name == name), None)
        if found is None:
            have = ", ".join(each.name for each in there)
            mend = f"take one of: {have}" if have else "plug a sound card in, or an adapter with a line input"
            raise NoInput("there is no such input", mend, name)
        best = found.best(wanted)
        if best is None:
            raise NoInput(f"it does not itself support {wanted}", _instead(found), name)
        self.name, self.rate_hz, self.n_channels = name, best.rate_hz, wanted.channels_of(best)
        self.bits = min(24, best.bits)
        self._format = miniaudio.SampleFormat[best.name]
        try:
            self._device = miniaudio.CaptureDevice(
                input_format=self._format,
                nchannels=self.n_channels,
                sample_rate=self.rate_hz,
                buffersize_msec=_BUFFER_MS,
                device_id=_device_id(name),
                app_name="camerawright",
            )
        except miniaudio.MiniaudioError as error:
            mend = "close what else uses it, and let this program use the microphone in the system's settings"
            raise NoInput(f"it cannot be opened ({error.args[-1]})", mend, name) from None

    def start(self, take: Take) -> None:
        """Begin to record.

        Raises
        ------
        NoInput
            It does not begin, for instance because it was pulled out.
        """
        import miniaudio  # noqa: PLC0415

        def taking() -> Generator[None, bytes, None]:
            while True:
                raw = yield
                take(samples_of(raw, self._format.name, self.n_channels))

        generator = taking()
        next(generator)
        try:
            self._device.start(generator)
        except miniaudio.MiniaudioError as error:
            mend = "see that it is plugged in, and that nothing else uses it"
            raise NoInput(f"it does not begin ({error.args[-1]})", mend, self.name) from None

    def stop(self) -> None:
        """Give the device back."""
        self._device.close()


def _instead(found: Input) -> str:
    """What to do where an input does not support what was wanted of it."""
    if not found.own:
        return f"{MUTE}: close what else uses it, or take another input"
    return f"it supports {'; '.join(found.own)}: choose that, or leave the choice to the input"


def _device_id(name: str) -> Any:
    """Find what the sound library calls an input of that name."""
    return next(each["id"] for each in _devices().get_captures() if each["name"] == name)


def samples_of(raw: bytes | bytearray, name: str, n_channels: int) -> Block:
    """Turn the bytes of a device into samples with full scale 2**31; no integer loses a bit.

    Parameters
    ----------
    raw
        Interleaved, in the byte order of this machine.
    name
        Name of the format: SIGNED16, SIGNED24 (packed), SIGNED32 or FLOAT32.
    """
    if name == "SIGNED16":
        flat = np.frombuffer(raw, np.int16).astype(np.int32) << 16
    elif name == "SIGNED24":
        wide = np.zeros((len(raw) // 3, 4), np.uint8)
        wide[:, 1:] = np.frombuffer(raw, np.uint8).reshape(-1, 3)
        flat = wide.view(np.int32)[:, 0]
    elif name == "SIGNED32":
        flat = np.frombuffer(raw, np.int32).copy()
    else:
        floats = np.frombuffer(raw, np.float32).astype(np.float64)
        flat = np.clip(np.rint(floats * 2.0**31), -(2.0**31), 2.0**31 - 1).astype(np.int32)
    return flat.reshape(-1, n_channels)


class PlayedFile:
    """A sound file played in place of a sound card, to try things out, `speed` times as fast as it was recorded.

    Raises
    ------
    Unreadable
        It is no sound file.
    """

    is_real = False

    def __init__(self, path: Path, speed: float = 1.0) -> None:
        try:
            self._file = soundfile.SoundFile(str(path))
        except (soundfile.LibsndfileError, OSError) as error:
            raise Unreadable(
                f"not a sound file that can be read ({error})", "give a WAV or FLAC file", path.name
            ) from None
        self.name = f"{path.name}, played in place of an input"
        self.rate_hz, self.n_channels = self._file.samplerate, self._file.channels
        self.bits = 16 if self._file.subtype == "PCM_16" else 24
        self._speed, self._stopped = speed, threading.Event()
        self._thread: threading.Thread | None = None

    def start(self, take: Take) -> None:
        """Play it from the beginning."""
        self._thread = threading.Thread(target=self._play, args=(take,), daemon=True)
        self._thread.start()

    def _play(self, take: Take) -> None:
        begun, n_played = time.monotonic(), 0
        while not self._stopped.is_set() and len(block := self._next()):
            take(block)
            n_played += len(block)
            self._stopped.wait(max(0.0, begun + n_played / self.rate_hz / self._speed - time.monotonic()))

    def _next(self) -> Block:
        """Read 20 ms more; nothing at its end, or from where it is damaged."""
        n = max(1, self.rate_hz * _BUFFER_MS // 1000)
        try:
            return np.asarray(self._file.read(n, dtype="int32", always_2d=True))
        except soundfile.LibsndfileError:
            return np.zeros((0, self.n_channels), np.int32)

    def stop(self) -> None:
        """Stop playing."""
        self._stopped.set()
        if self._thread is not None:
            self._thread.join()
        self._file.close()

    @property
    def is_over(self) -> bool:
        """Whether its end was reached."""
        return self._thread is not None and not self._thread.is_alive()


class HeadphoneOutput:
    """The sound card's output, playing a signal once.

    Parameters
    ----------
    samples : shape (n, 2)
        Left and right. [full scale 2**15]

    Raises
    ------
    NoInput
        There is no output.
    """

    def __init__(self, samples: NDArray[np.int16], rate_hz: int) -> None:
        import miniaudio  # noqa: PLC0415

        self._samples = samples
        real = [each for each in miniaudio.Backend if each is not miniaudio.Backend.NULL]
        try:
            self._device = miniaudio.PlaybackDevice(
                nchannels=2, sample_rate=rate_hz, buffersize_msec=100, backends=real, app_name="camerawright"
            )
        except miniaudio.MiniaudioError as error:
            mend = "plug the LED into the headphone output of a sound card that works, and turn its volume up"
            raise NoInput(
                f"there is no sound output to drive the LED ({error.args[-1]})", mend, "headphone output"
            ) from None

    def start(self) -> None:
        """Begin to play.

        Raises
        ------
        NoInput
            It does not begin, for instance because it was pulled out.
        """
        import miniaudio  # noqa: PLC0415

        def playing() -> Generator[bytes, int, None]:
            at = 0
            n = yield b""
            while True:
                piece = self._samples[at : at + n]
                at += n
                quiet = np.zeros((n - len(piece), 2), np.int16)
                n = yield np.concatenate([piece, quiet]).tobytes()

        generator = playing()
        next(generator)
        try:
            self._device.start(generator)
        except miniaudio.MiniaudioError as error:
            mend = "see that the headphone output is there, and that nothing else uses it"
            raise NoInput(f"it does not begin ({error.args[-1]})", mend, "headphone output") from None

    def stop(self) -> None:
        """Fall silent."""
        self._device.close()
