"""Photos in: what is one, what is none, and what a page gets to see of it."""

import struct
import zlib
from io import BytesIO

import pytest
from PIL import Image, PngImagePlugin, TiffImagePlugin

from camerawright.recordings import stills
from camerawright.recordings.bare_photo import pixels_alone
from camerawright.recordings.stills import read_still, shown
from camerawright.trouble import Unreadable

ORIENTATION, MAKE, GPS = 0x0112, 0x010F, 0x8825  # tags of Exif 2.32
TURNED_RIGHT = 6  # row 0 is the visual right side, column 0 the visual top (Exif 2.32, 4.6.4)


def saved(image: Image.Image, kind: str, **more: object) -> bytes:
    """An image as a file."""
    out = BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def png_that_says(width: int, height: int) -> bytes:
    """A PNG file of a few bytes whose header names a size (PNG specification, 11.2.1)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")


@pytest.mark.parametrize(("kind", "suffix"), [("JPEG", ".jpg"), ("PNG", ".png"), ("TIFF", ".tif"), ("WEBP", ".webp")])
def test_a_photo_is_told_by_its_bytes_not_by_its_name(kind: str, suffix: str) -> None:
    still = read_still(saved(Image.new("RGB", (40, 30)), kind), name="photo.exe")
    assert (still.suffix, still.width_px, still.height_px) == (suffix, 40, 30)


@pytest.mark.parametrize("data", [b"", b"text", b"GIF89a" + bytes(40), b"<svg/>", b"%PDF-1.7", b"\x89PNG\r\n\x1a\n"])
def test_what_is_no_photo_is_refused_by_its_name_with_a_mend(data: bytes) -> None:
    with pytest.raises(Unreadable, match=r"^dial\.jpg: .*JPEG, PNG, TIFF or WebP$"):
        read_still(data, name="dial.jpg")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_a_photo_that_was_cut_short_is_refused(kind: str) -> None:
    whole = saved(Image.effect_noise((200, 150), 60).convert("RGB"), kind)
    with pytest.raises(Unreadable):
        read_still(whole[: len(whole) // 2])


def test_a_small_file_that_unfolds_to_more_than_any_camera_makes_is_refused_unread() -> None:
    side = int(stills.MAX_PIXELS**0.5) + 1
    with pytest.raises(Unreadable, match="pixels are more than"):
        read_still(png_that_says(side, side))
    with pytest.raises(Unreadable):
        read_still(png_that_says(2**31 - 1, 2**31 - 1))


def test_a_page_gets_the_photo_upright_small_and_without_where_it_was_taken() -> None:
    image = Image.new("RGB", (3000, 2000), "white")
    image.paste("black", (0, 0, 3000, 1000))  # the upper half; turned right it is the right half
    exif = Image.Exif()
    exif[ORIENTATION] = TURNED_RIGHT
    exif[MAKE] = "a camera"
    exif[GPS] = {1: "N", 2: (1.0, 2.0, 3.0)}
    page = Image.open(BytesIO(shown(saved(image, "JPEG", exif=exif), width_px=600)))
    assert page.size == (400, 600)
    assert not page.getexif()
    assert [page.convert("L").getpixel((x, 300)) for x in (100, 300)] == [255, 0]


def test_a_photo_of_16_bits_is_shown_too() -> None:
    grey = Image.frombytes("I;16", (4, 4), bytes([0, 128] * 16))
    level = Image.open(BytesIO(shown(saved(grey, "TIFF")))).convert("L").getpixel((2, 2))
    assert level == pytest.approx(128, abs=2)


SECRET = b"lent by the owner"


def _photo(mode: str) -> Image.Image:
    """A picture with detail, in a mode of Pillow's."""
    noise = Image.effect_noise((64, 48), 90)
    return Image.merge("RGB", (noise, noise.rotate(90), noise.rotate(180))).convert(mode)


def _with_secrets(kind: str, mode: str, **more: object) -> bytes:
    """A photo that says in every place that the format has who took it, where, and of whose camera."""
    exif = Image.Exif()
    exif[MAKE], exif[ORIENTATION] = SECRET.decode(), TURNED_RIGHT
    exif.get_ifd(GPS)[1] = "N"
    told: dict[str, object] = {"exif": exif.tobytes(), "icc_profile": SECRET * 3, "xmp": SECRET, "comment": SECRET}
    if kind == "PNG":
        info = PngImagePlugin.PngInfo()
        info.add_text("Comment", SECRET.decode())
        info.add_itxt("Author", SECRET.decode())
        told["pnginfo"] = info
    if kind == "TIFF":
        tags = TiffImagePlugin.ImageFileDirectory_v2()
        tags[270], tags[315], tags[700] = SECRET.decode(), SECRET.decode(), SECRET
        tags[ORIENTATION] = TURNED_RIGHT
        told = {"tiffinfo": tags}
    return saved(_photo(mode), kind, **told, **more)


_FORMATS = [
    ("JPEG", "RGB", {}),
    ("JPEG", "RGB", {"progressive": True, "restart_marker_rows": 1}),
    ("JPEG", "L", {}),
    ("JPEG", "CMYK", {}),
    ("PNG", "RGB", {}),
    ("PNG", "RGBA", {}),
    ("PNG", "P", {}),
    ("PNG", "I;16", {}),
    ("TIFF", "RGB", {}),
    ("TIFF", "L", {"compression": "tiff_lzw"}),
    ("WEBP", "RGB", {"quality": 60}),
    ("WEBP", "RGBA", {"lossless": True}),
]


@pytest.mark.parametrize(("kind", "mode", "more"), _FORMATS)
def test_a_photo_goes_out_with_every_pixel_and_nothing_else(kind: str, mode: str, more: dict[str, object]) -> None:
    """Pillow reads it back; of a JPEG, segments as in [itu-t-81] B.1.1."""
    data = _with_secrets(kind, mode, **more) + b"a second picture, " + SECRET  # phones hide films behind the end
    assert SECRET in data
    bare = pixels_alone(data, read_still(data))
    assert SECRET not in bare
    with Image.open(BytesIO(data)) as before, Image.open(BytesIO(bare)) as after:
        before.load()  # Pillow itself puts a TIFF upright here
        assert (after.format, after.mode, after.size) == (before.format, before.mode, before.size)
        assert (
            after.convert("RGBA" if mode == "P" else mode).tobytes()
            == before.convert("RGBA" if mode == "P" else mode).tobytes()
        )
        assert after.getexif().get(ORIENTATION) == before.getexif().get(ORIENTATION)  # or it would lie on its side
        assert kind == "TIFF" or set(after.getexif()) <= {ORIENTATION}  # a TIFF's size is such a tag too
        assert not {"icc_profile", "xmp", "comment", "Comment", "Author"} & after.info.keys()
    assert bare == pixels_alone(bare, read_still(bare))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_on_a_page_has_no_comment(kind: str) -> None:
    small = shown(_with_secrets(kind, "RGB"), width_px=20)
    assert SECRET not in small
    assert b"\xff\xfe" not in small  # the marker of a comment (ITU-T T.81, table B.1)


def test_a_damaged_photo_does_not_go_out_half() -> None:
    data = saved(_photo("RGB"), "JPEG")
    still = read_still(data)
    with pytest.raises(Unreadable):
        pixels_alone(data[:2] + b"\0\0" + data[2:], still)
