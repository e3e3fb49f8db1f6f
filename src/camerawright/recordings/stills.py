"""Photos: checked, measured, and made small enough to show. What is kept is the original file."""

import hashlib
import warnings
from dataclasses import dataclass
from io import BytesIO
from typing import Final

from PIL import Image, ImageOps, UnidentifiedImageError

from camerawright.trouble import Unreadable

SUFFIXES: Final = {"JPEG": ".jpg", "PNG": ".png", "TIFF": ".tif", "WEBP": ".webp"}
MEDIA_TYPES: Final = {"JPEG": "image/jpeg", "PNG": "image/png", "TIFF": "image/tiff", "WEBP": "image/webp"}
MAX_PIXELS: Final = 150_000_000
"""No camera of a phone or tablet takes more; a small file that unfolds to more is meant to do harm."""

_MEND: Final = "take it again, or save it as JPEG, PNG, TIFF or WebP"


@dataclass(frozen=True, kw_only=True)
class Still:
    """A photo that can be read, and what names it."""

    sha256: str
    suffix: str
    media_type: str
    width_px: int
    height_px: int


def read_still(data: bytes, *, name: str = "the photo") -> Still:
    """Check that bytes are a whole photo in a format that browsers and printers know.

    Parameters
    ----------
    data
        The file.
    name
        The name by which a refusal calls it.

    Raises
    ------
    Unreadable
        It is no photo, is cut short, or unfolds to more than `MAX_PIXELS`.
    """
    with opened(data, name) as image:
        kind = image.format or ""
        size = image.size
    # `verify` checks only the outside of the file; decoding finds one that was cut short
    with opened(data, name) as image:
        try:
            image.load()
        except Exception as error:  # on broken bytes the decoders raise anything
            raise Unreadable(f"the picture is damaged or cut short ({error})", _MEND, name) from error
    return Still(
        sha256=hashlib.sha256(data).hexdigest(),
        suffix=SUFFIXES[kind],
        media_type=MEDIA_TYPES[kind],
        width_px=size[0],
        height_px=size[1],
    )


def shown(data: bytes, *, width_px: int = 1200) -> bytes:
    """Make a JPEG that fits a page, the right way up, without what the camera wrote about place and time."""
    with opened(data, "the photo") as image:
        image.draft("RGB", (width_px, width_px))
        upright = _eight_bits(ImageOps.exif_transpose(image))
        upright.thumbnail((width_px, width_px))
        upright.info.clear()  # Pillow would write a comment again
        out = BytesIO()
        upright.save(out, "JPEG", quality=85)
    return out.getvalue()


def _eight_bits(image: Image.Image) -> Image.Image:
    """Bring the image to 8 bits a colour; Pillow itself would cut 16-bit greys off at 255."""
    if image.mode.startswith("I"):
        image = image.convert("I").point(lambda level: level / 257).convert("L")
    return image.convert("RGB")


def opened(data: bytes, name: str) -> Image.Image:
    """Open the image without decoding its pixels."""
    if not data:
        raise Unreadable("the file is empty", _MEND, name)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # our own limit stands below
            image = Image.open(BytesIO(data), formats=tuple(SUFFIXES))
    except UnidentifiedImageError:
        raise Unreadable("this is not a photo", _MEND, name) from None
    except Exception as error:  # Pillow's own bomb error, and broken headers
        raise Unreadable(f"this is not a photo that can be read ({error})", _MEND, name) from error
    if image.width * image.height > MAX_PIXELS:
        raise Unreadable(
            f"{image.width} × {image.height} pixels are more than any camera makes", "send the photo itself", name
        )
    return image
