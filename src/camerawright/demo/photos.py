"""Drawn stand-ins for bench photos: a part on a white pad, its mark, and a scale."""

import math
from io import BytesIO

from PIL import Image, ImageDraw

_SIZE_PX = (960, 720)
_PX_PER_MM = 12


def ring_photo(*, diameter_mm: float, mark_oclock: float, teeth: int = 0) -> bytes:
    """A ring seen from the front, with a red dot and a pointer at its mark, as the bytes of a PNG file.

    Parameters
    ----------
    diameter_mm
        Outer diameter of the ring; drawn at 12 pixels a millimetre.
    mark_oclock
        Where the mark stands.
    teeth
        Knurls round the rim.
    """
    picture = Image.new("RGB", _SIZE_PX, (244, 242, 236))
    draw = ImageDraw.Draw(picture)
    x, y = 430, 350
    radius = diameter_mm * _PX_PER_MM / 2
    for shade in range(24, 0, -1):  # the soft shadow of a bench lamp
        grey = 244 - 3 * (24 - shade)
        draw.ellipse(_box(x + 14, y + 16, radius + shade), fill=(grey, grey - 1, grey - 5))
    draw.ellipse(_box(x, y, radius), fill=(52, 52, 54))
    for i_tooth in range(teeth):
        angle = 2 * math.pi * i_tooth / teeth
        draw.line((*_at(x, y, radius * 0.93, angle), *_at(x, y, radius, angle)), fill=(120, 120, 122), width=3)
    draw.ellipse(_box(x, y, radius * 0.78), outline=(150, 150, 150), width=3)
    draw.ellipse(_box(x, y, radius * 0.55), fill=(188, 160, 96))
    draw.ellipse(_box(x, y, radius * 0.42), fill=(244, 242, 236))
    angle = math.radians(30 * mark_oclock - 90)
    draw.ellipse(_box(*_at(x, y, radius * 0.86, angle), 9), fill=(196, 40, 40))
    draw.line((*_at(x, y, radius * 1.05, angle), *_at(x, y, radius * 1.3, angle)), fill=(30, 30, 30), width=5)
    draw.rectangle((800, 640, 800 + 10 * _PX_PER_MM, 648), fill=(30, 30, 30))
    draw.text((800, 655), "10 mm", fill=(30, 30, 30), font_size=24)
    out = BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


def _at(x: float, y: float, radius: float, angle_rad: float) -> tuple[float, float]:
    """A point on a circle."""
    return x + radius * math.cos(angle_rad), y + radius * math.sin(angle_rad)


def _box(x: float, y: float, radius: float) -> tuple[float, float, float, float]:
    """The square round a circle."""
    return x - radius, y - radius, x + radius, y + radius
