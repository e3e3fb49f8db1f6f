"""Video files in: times, light, and what is refused."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms

from camerawright.recordings import clips
from camerawright.recordings.clips import WHITE, clip_of_luma, linear_light, read_clip
from camerawright.trouble import Unreadable
from tests.recordings.films import write_film, write_sound

N = 24
AT_S = np.arange(N) / 240


def _ramp(n: int = N, height: int = 64, width: int = 96, top: int = 235) -> NDArray[np.uint8]:
    """Frames of one even grey each, from dark to white."""
    return np.broadcast_to(np.linspace(16, top, n).round().astype(np.uint8)[:, None, None], (n, height, width))


def test_frames_carry_their_own_times_even_where_they_come_unevenly(tmp_path: Path) -> None:
    at_s = np.cumsum(np.where(np.arange(N) % 5 == 0, 0.0100, 0.0050))
    clip = read_clip(write_film(tmp_path / "uneven.mp4", _ramp(), at_s))
    assert clip.at_s == pytest.approx(at_s - at_s[0], abs=1e-5)


def test_the_rate_at_which_frames_were_taken_is_read_beside_the_rate_at_which_they_play(tmp_path: Path) -> None:
    slowed = read_clip(write_film(tmp_path / "slow.mp4", _ramp(), AT_S * 8, capture_fps=240))
    assert slowed.capture_fps == 240
    assert np.median(np.diff(slowed.at_s)) == pytest.approx(1 / 30, rel=1e-3)
    assert read_clip(write_film(tmp_path / "plain.mp4", _ramp(), AT_S)).capture_fps is None


def test_srgb_is_undone_as_the_profile_of_another_library_has_it() -> None:
    """[iec-61966-2-1]: Little CMS through Pillow, sRGB grey to L*, in 8 bits."""
    assert linear_light(np.arange(256) / 255, "sRGB") == pytest.approx(_through_profile(), abs=0.005)


def _through_profile() -> NDArray[np.float64]:
    """Linear light of each grey code, from the L* that the profile gives ([cie-1976]: Y is a cube of L* above 8)."""
    greys = Image.fromarray(np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 3, axis=2))
    transform = ImageCms.buildTransform(ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB"), "RGB", "LAB")
    lab: NDArray[np.uint8] = np.asarray(ImageCms.applyTransform(greys, transform))
    lightness = lab[0, :, 0].astype(float) * 100 / 255
    return np.where(lightness > 8, ((lightness + 16) / 116) ** 3, lightness / 903.3)


@pytest.mark.parametrize(("light", "signal"), [(0.0, 0.0), (0.018, 0.081), (0.18, 0.409), (1.0, 1.0)])
def test_bt_709_has_its_well_known_points(light: float, signal: float) -> None:
    """Recommendation ITU-R BT.709-6 item 1.2: the joint at 0.018, 0.081; 18 % grey at 40.9 %. From memory."""
    assert linear_light(np.array([signal]), "BT.709")[0] == pytest.approx(light, abs=0.0005)


@pytest.mark.parametrize(
    ("name", "codec", "pix_fmt", "is_full_range"),
    [
        ("a.mp4", "libx264", "yuv420p", False),
        ("b.mp4", "libx264", "yuvj420p", True),
        ("c.mkv", "ffv1", "yuv420p", False),
        ("d.mkv", "ffv1", "yuv420p10le", False),
        ("e.mkv", "libx264", "nv12", False),
    ],
)
def test_light_does_not_depend_on_coder_container_bits_or_range(
    tmp_path: Path, name: str, codec: str, pix_fmt: str, is_full_range: bool
) -> None:
    signal = np.linspace(0, 1, N)
    codes = 255 * signal if is_full_range else 16 + 219 * signal
    codes = codes * 4 if "10le" in pix_fmt else codes
    kind = np.uint16 if "10le" in pix_fmt else np.uint8
    planes = np.broadcast_to(codes.round().astype(kind)[:, None, None], (N, 64, 96))
    path = write_film(tmp_path / name, planes, AT_S, codec=codec, pix_fmt=pix_fmt, is_full_range=is_full_range, crf=4)
    light = read_clip(path).frames.mean(axis=(1, 2)) / WHITE
    expected = np.where(signal < 0.081, signal / 4.5, ((signal + 0.099) / 1.099) ** (1 / 0.45))
    assert light == pytest.approx(expected, abs=0.012)


def test_blocks_and_rows_are_means_of_the_light_of_their_pixels() -> None:
    rng = np.random.default_rng(1)
    luma = rng.integers(16, 236, (8, 300, 400), dtype=np.uint8)
    clip = clip_of_luma(luma, np.arange(8.0))
    light = linear_light((luma.astype(float) - 16) / 219, "BT.709")
    assert clip.block_px == 4
    assert clip.frames.shape == (8, 75, 100)
    assert clip.frames[3, 10, 20] / WHITE == pytest.approx(light[3, 40:44, 80:84].mean(), abs=1e-4)
    assert clip.rows[5] == pytest.approx(light[5].mean(axis=1), abs=1e-5)
    assert clip.frames.mean() / WHITE == pytest.approx(light.mean(), abs=1e-4)


def test_the_curve_that_the_file_names_is_the_one_undone(tmp_path: Path) -> None:
    named = read_clip(write_film(tmp_path / "s.mp4", _ramp(), AT_S, transfer=13))
    assert (named.transfer, named.is_transfer_known) == ("sRGB", True)
    silent = read_clip(write_film(tmp_path / "n.mp4", _ramp(), AT_S))
    assert (silent.transfer, silent.is_transfer_known) == ("BT.709", False)


def test_a_clip_knows_its_fingerprint_and_what_is_blown_out(tmp_path: Path) -> None:
    clip = read_clip(write_film(tmp_path / "white.mp4", _ramp(top=250), AT_S))
    assert len(clip.sha256) == 64
    assert clip.name == "white.mp4"
    assert (clip.clipped[0], clip.clipped[-1]) == (0, 1)


def _cut(path: Path, keep: float) -> Path:
    data = path.read_bytes()
    path.write_bytes(data[: round(keep * len(data))])
    return path


def _with_bytes(path: Path, old: bytes, new: bytes) -> Path:
    """The file with some of its bytes overwritten."""
    data = path.read_bytes()
    assert old in data
    path.write_bytes(data.replace(old, new))
    return path


def test_a_film_whose_tags_are_no_text_is_read_all_the_same(tmp_path: Path) -> None:
    broken = _with_bytes(
        write_film(tmp_path / "tags.mp4", _ramp(), AT_S, capture_fps=240), b"Lavf", b"\x88\xff\xfe\x88"
    )
    assert read_clip(broken).capture_fps == 240


def test_what_is_no_film_is_refused_with_the_reason(tmp_path: Path) -> None:
    text = tmp_path / "notes.mp4"
    text.write_text("no film", encoding="utf-8")
    empty = tmp_path / "empty.mp4"
    empty.touch()
    picture = tmp_path / "picture.png"
    Image.new("RGB", (64, 64)).save(picture)
    noise = np.random.default_rng(0).integers(16, 236, (N, 64, 96), dtype=np.uint8)
    cases = {
        tmp_path / "none.mp4": "no such file",
        tmp_path: "folder",
        empty: "empty",
        text: "not a video",
        picture: "a picture, not a film",
        write_sound(tmp_path / "sound.mp4"): "sound only",
        write_film(tmp_path / "hdr.mp4", _ramp(), AT_S, transfer=18): "high dynamic range",
        write_film(tmp_path / "short.mp4", _ramp(4), AT_S[:4]): "4 frames are a picture",
        _with_bytes(write_film(tmp_path / "unknown.mp4", _ramp(), AT_S), b"avc1", b"zzzz"): "cannot decode its kind",
        _cut(write_film(tmp_path / "half.mp4", noise, AT_S), 0.5): "not a video",
        _cut(write_film(tmp_path / "half.mkv", noise, AT_S, codec="ffv1"), 0.5): "cut off",
    }
    for path, reason in cases.items():
        with pytest.raises(Unreadable) as refused:
            read_clip(path)
        assert reason in str(refused.value), path.name
        assert path.name in str(refused.value)
        assert refused.value.mend


def test_more_frames_than_memory_is_set_aside_for_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clips, "MAX_FRAMES", 20)
    for name, codec in (("told.mp4", "libx264"), ("untold.mkv", "ffv1")):
        with pytest.raises(Unreadable, match="more than 20 frames"):
            read_clip(write_film(tmp_path / name, _ramp(), AT_S, codec=codec))
