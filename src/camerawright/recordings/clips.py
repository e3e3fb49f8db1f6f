"""Video files: a clip as its frames' own times and their linear light, in blocks and in rows. Memory stays bounded."""

import hashlib
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from camerawright.trouble import Unreadable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

MAX_FRAMES: Final = 9_000
"""37 s at 240 frames a second; at most 170 MB in memory."""
MAX_SIDE_PX: Final = 8_192
LONG_SIDE_BLOCKS: Final = 128
CLIPPED: Final = 0.985  # linear light at which a pixel counts as blown out
WHITE: Final = 65_535  # `Clip.frames` at full scale

_LUMA_8 = {"yuv420p", "yuvj420p", "yuv422p", "yuvj422p", "yuv444p", "yuvj444p", "nv12", "nv21", "gray"}
_LUMA_16 = {"yuv420p10le": 0, "yuv422p10le": 0, "yuv444p10le": 0, "gray10le": 0, "p010le": 6}  # bits to drop
# H.273 table 3, transfer characteristics; 1, 6, 14 and 15 are the same curve. From memory.
_TRANSFERS = {1: "BT.709", 6: "BT.709", 14: "BT.709", 15: "BT.709", 4: "gamma 2.2", 5: "gamma 2.8", 8: "linear",
              13: "sRGB", 16: "PQ", 18: "HLG"}  # fmt: skip
ASSUMED: Final = "BT.709"
"""The curve of a clip that names none: most cameras follow this one. Common practice."""
_FULL_RANGE = 2
_MEND = "give the clip as the camera wrote it (MP4, MOV or MKV), not one sent through a messenger or an editor"


@dataclass(frozen=True, eq=False, kw_only=True)
class Clip:
    """A video clip as linear light; white is 1 (`WHITE` in `frames`).

    Attributes
    ----------
    at_s : shape (n,)
        Timestamp of each frame as the container has it, the first at 0. [s]
    frames : shape (n, height, width) in blocks
        Light averaged over blocks of `block_px` by `block_px` pixels, in the orientation of the sensor.
    rows : shape (n, height_px)
        Light of each row of the sensor, averaged over its width.
    clipped : shape (n,)
        Part of the pixels that are blown out.
    capture_fps
        The rate at which the camera says it took the frames; None if it does not say.
    rotation_deg
        How far to turn the picture anticlockwise to bring it upright.
    transfer, is_transfer_known
        The curve that was undone, and whether the file named it.
    """

    at_s: Floats
    frames: NDArray[np.uint16]
    rows: NDArray[np.float32]
    clipped: Floats
    block_px: int
    capture_fps: float | None = None
    rotation_deg: int = 0
    transfer: str = ASSUMED
    is_transfer_known: bool = False
    format: str = ""
    sha256: str = ""
    name: str = ""

    @property
    def n_frames(self) -> int:
        """How many frames there are."""
        return len(self.at_s)


def read_clip(path: Path) -> Clip:
    """Read a video file, frame by frame.

    Raises
    ------
    Unreadable
        Missing, a folder, empty, no video, sound only, a single picture, cut off, without timestamps, too long, or in
        a curve for high dynamic range.
    """
    import av  # noqa: PLC0415  60 ms to import
    import av.error  # noqa: PLC0415

    where = path.name
    if path.is_dir():
        raise Unreadable("this is a folder", "give the clip in it", where)
    if path.exists() and path.stat().st_size == 0:
        raise Unreadable("the file is empty", "record again, or copy it again", where)
    try:
        with av.open(str(path), metadata_errors="replace") as container:
            clip = _read(container, where)
    except FileNotFoundError:
        raise Unreadable("no such file", "check the path", str(path)) from None
    except av.error.FFmpegError as error:
        raise Unreadable(f"not a video that can be read ({error.strerror})", _MEND, where) from None
    except OSError as error:
        raise Unreadable(str(error.strerror or error), "check the permissions and the disk", where) from None
    with path.open("rb") as raw:
        return replace(clip, sha256=hashlib.file_digest(raw, "sha256").hexdigest(), name=where)


def clip_of_luma(
    luma: Iterable[NDArray[np.unsignedinteger[Any]]],
    at_s: Floats,
    *,
    transfer: str = ASSUMED,
    is_transfer_known: bool = True,
    is_full_range: bool = False,
    n_bits: int = 8,
) -> Clip:
    """Make a clip of planes of luma codes, shape (height, width) each, as `read_clip` does after decoding.

    Parameters
    ----------
    at_s
        One timestamp for each plane. [s]
    transfer
        A curve of `linear_light`.
    is_transfer_known
        Whether it is that curve, or only the one assumed.
    is_full_range
        Whether codes run over all their bits, instead of from 16/256 to 235/256 of them. [itu-r-bt-709] item 4.6.
    """
    curve = _Curve.of(transfer, is_full_range, n_bits)
    reduced = [curve.reduced(plane) for plane in luma]
    return Clip(
        at_s=np.asarray(at_s, float) - at_s[0],
        frames=np.array([one[0] for one in reduced]),
        rows=np.array([one[1] for one in reduced]),
        clipped=np.array([one[2] for one in reduced]),
        block_px=_block_px(*curve.shape),
        transfer=transfer,
        is_transfer_known=is_transfer_known,
    )


def linear_light(signal: Floats, transfer: str) -> Floats:
    """Turn a camera's signal into linear light, both from 0 to 1.

    References
    ----------
    [itu-r-bt-709] 1.2, inverted. [iec-61966-2-1] 5.2, inverted. Both from memory.
    """
    signal = np.clip(signal, 0, None)
    if transfer == "BT.709":
        return np.where(signal < 0.081, signal / 4.5, ((signal + 0.099) / 1.099) ** (1 / 0.45))
    if transfer == "sRGB":
        return np.where(signal <= 0.04045, signal / 12.92, ((signal + 0.055) / 1.055) ** 2.4)
    return signal ** {"linear": 1.0, "gamma 2.2": 2.2, "gamma 2.8": 2.8}[transfer]


class _Curve:
    """Turns codes into linear light by a table, and planes into blocks and rows."""

    def __init__(self, table: NDArray[np.float32], drop: int = 0) -> None:
        self.table = table
        self.drop = drop
        self.shape = (0, 0)

    @classmethod
    def of(cls, transfer: str, is_full_range: bool, n_bits: int, drop: int = 0) -> "_Curve":
        """Make the table for codes of `n_bits`."""
        codes = np.arange(2**n_bits, dtype=float)
        unit = 2 ** (n_bits - 8)
        signal = codes / (2**n_bits - 1) if is_full_range else (codes / unit - 16) / 219
        return cls(np.minimum(linear_light(signal, transfer), 1).astype(np.float32), drop)

    def reduced(self, plane: NDArray[np.unsignedinteger[Any]]) -> tuple[NDArray[np.uint16], NDArray[np.float32], float]:
        """Reduce one plane of codes to its blocks, its rows and the part that is blown out."""
        light = self.table.take(plane >> self.drop if self.drop else plane, mode="clip")
        self.shape = height, width = light.shape
        block = _block_px(height, width)
        n_y, n_x = height // block, width // block
        flat = light[: n_y * block].reshape(n_y, block, width).mean(axis=1)  # down first: ten times as fast
        blocks = flat[:, : n_x * block].reshape(n_y, n_x, block).mean(axis=2)
        clipped = float(np.count_nonzero(light >= CLIPPED)) / light.size
        return np.round(WHITE * blocks).astype(np.uint16), light.mean(axis=1), clipped


def _block_px(height: int, width: int) -> int:
    """Side of a block. [pixels]"""
    return max(1, math.ceil(max(height, width) / LONG_SIDE_BLOCKS))


def _read(container: Any, where: str) -> Clip:
    """Read the first film in a container."""
    stream = next((one for one in container.streams.video if not _is_cover(one)), None)
    if stream is None:
        what = "sound only" if container.streams.audio else "there is no video in it"
        raise Unreadable(what, _MEND, where)
    _refuse_header(stream, where)
    stream.thread_type = "AUTO"
    state = _Reading(where, stream.codec_context.color_trc)
    for frame in _decoded(container, stream, where):
        state.take(frame)
    return state.clip(
        promised=int(stream.frames or 0),
        promised_s=_duration_s(container, stream),
        capture_fps=_capture_fps(container, stream),
        format=f"{container.format.name.split(',')[0]} {stream.codec_context.name}",
    )


def _is_cover(stream: Any) -> bool:
    """Whether it is a picture of the cover, as sound files carry."""
    from av.stream import Disposition  # noqa: PLC0415  av is slow to import

    return bool(stream.disposition & Disposition.attached_pic)


def _refuse_header(stream: Any, where: str) -> None:
    """Refuse what the header alone rules out."""
    if stream.codec_context is None:
        raise Unreadable("this program cannot decode its kind of video", _MEND, where)
    height, width = stream.codec_context.height, stream.codec_context.width
    if not 16 <= min(height, width) <= max(height, width) <= MAX_SIDE_PX:
        raise Unreadable(f"frames of {width} × {height} pixels", _MEND, where)
    if stream.frames > MAX_FRAMES:
        raise _too_long(where)


def _too_long(where: str) -> Unreadable:
    """Refusal of a clip that is longer than the memory set aside for it."""
    mend = f"cut it to {MAX_FRAMES} frames (37 s at 240 a second) without re-coding"
    return Unreadable(f"more than {MAX_FRAMES} frames", mend, where)


def _decoded(container: Any, stream: Any, where: str) -> Iterator[Any]:
    """Decode the frames; if damage stops that, the clip is cut off."""
    import av.error  # noqa: PLC0415

    n = 0
    try:
        for frame in container.decode(stream):
            n += 1
            yield frame
    except av.error.FFmpegError as error:
        if n == 0:
            raise
        raise Unreadable(f"damaged after {n} frames ({error.strerror})", "copy it again", where) from None


class _Reading:
    """Gathers the frames one by one."""

    def __init__(self, where: str, stream_transfer: int) -> None:
        self.where = where
        self.stream_transfer = stream_transfer
        self.curve: _Curve | None = None
        self.transfer = ASSUMED
        self.is_known = False
        self.at_s: list[float] = []
        self.reduced: list[tuple[NDArray[np.uint16], NDArray[np.float32], float]] = []
        self.rotation_deg = 0

    def take(self, frame: Any) -> None:
        """Take one more frame."""
        if len(self.at_s) >= MAX_FRAMES:
            raise _too_long(self.where)
        if frame.pts is None or frame.time_base is None:
            raise Unreadable("its frames carry no times", _MEND, self.where)
        if frame.format.name not in _LUMA_8 and frame.format.name not in _LUMA_16:
            frame = frame.reformat(format="yuv444p", dst_color_range=1)
        if self.curve is None:
            self._begin(frame)
        assert self.curve is not None
        self.at_s.append(float(frame.pts * frame.time_base))
        self.reduced.append(self.curve.reduced(_luma(frame)))

    def _begin(self, frame: Any) -> None:
        """Take from the first frame which curve it follows and which way is up."""
        code = frame.color_trc if frame.color_trc in _TRANSFERS else self.stream_transfer
        self.is_known = code in _TRANSFERS
        self.transfer = _TRANSFERS.get(code, ASSUMED)
        if self.transfer in {"PQ", "HLG"}:
            what = f"it is in a curve for high dynamic range ({self.transfer})"
            raise Unreadable(what, "switch HDR off and film again", self.where)
        name = frame.format.name
        is_full = frame.color_range == _FULL_RANGE or name.startswith("yuvj") or name == "gray"
        self.curve = _Curve.of(self.transfer, is_full, 10 if name in _LUMA_16 else 8, _LUMA_16.get(name, 0))
        self.rotation_deg = int(getattr(frame, "rotation", 0) or 0)

    def clip(self, *, promised: int, promised_s: float, capture_fps: float | None, format: str) -> Clip:  # noqa: A002  as in `Clip`
        """Make the clip of all frames."""
        n = len(self.at_s)
        if n == 0:
            raise Unreadable("there are no frames in it", "record again", self.where)
        if n < promised - max(2, 0.01 * promised):  # a container may leave out a few on purpose
            what = f"it is cut off: {promised - n} of {promised} frames are missing"
            raise Unreadable(what, "copy it again", self.where)
        if n < 8:
            raise Unreadable(f"{n} frames are a picture, not a film", _MEND, self.where)
        at_s = np.array(self.at_s)
        if not np.all(np.diff(at_s) > 0):
            raise Unreadable("the times of its frames do not increase", _MEND, self.where)
        missing_s = promised_s - (at_s[-1] - at_s[0])
        if missing_s > 0.02 * promised_s + 5 * float(np.median(np.diff(at_s))):
            raise Unreadable(
                f"it is cut off: the last {numbers.fixed(missing_s, 2)} s are missing", "copy it again", self.where
            )
        assert self.curve is not None
        return Clip(
            at_s=at_s - at_s[0],
            frames=np.array([one[0] for one in self.reduced]),
            rows=np.array([one[1] for one in self.reduced]),
            clipped=np.array([one[2] for one in self.reduced]),
            block_px=_block_px(*self.curve.shape),
            capture_fps=capture_fps,
            rotation_deg=self.rotation_deg,
            transfer=self.transfer,
            is_transfer_known=self.is_known,
            format=format,
        )


def _luma(frame: Any) -> NDArray[np.unsignedinteger[Any]]:
    """The luma plane without its padding, shape (height, width)."""
    plane = frame.planes[0]
    kind = np.uint16 if frame.format.name in _LUMA_16 else np.uint8
    codes: NDArray[Any] = np.frombuffer(plane, kind).reshape(plane.height, -1)
    return codes[:, : frame.width]


def _duration_s(container: Any, stream: Any) -> float:
    """Length of the film by its header; 0 if that does not say."""
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    return 0.0 if container.streams.audio or not container.duration else container.duration / 1e6


def _capture_fps(container: Any, stream: Any) -> float | None:
    """The rate at which the camera says it took the frames."""
    for metadata in (stream.metadata, container.metadata):
        try:
            fps = float(metadata["com.android.capture.fps"])
        except (KeyError, ValueError):
            continue
        if 1 <= fps <= 100_000:
            return fps
    return None
