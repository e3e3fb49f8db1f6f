"""A paper's content in, the bytes of its PDF out: PDF/A-2b, tagged, the same bytes each time and on each machine."""

import json
import warnings
from collections.abc import Mapping
from dataclasses import asdict
from functools import cache
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any
from unicodedata import category

from camerawright.wording.verdicts import SIGNS

if TYPE_CHECKING:
    from _typeshed import DataclassInstance
    from typst import Fonts


def render(template: str, content: "DataclassInstance", *, images: Mapping[str, bytes] = {}) -> bytes:
    """Print one paper.

    Parameters
    ----------
    template
        Name of a template beside this module, without its ending: "certificate", "refit", "tray".
    content
        The frozen dataclass of `content` or `cards` that the template shows. Its words are printed to the letter; a
        character that the typeface lacks is printed as its code point, `[U+1F4F7]`, since a paper with a hole in a name
        would mislead.
    images
        PNG, JPEG, WebP or SVG files under the names that `content` calls them by. They go in as they are: hand over
        photos already scaled for print (1200 pixels are plenty).

    Returns
    -------
    bytes
        A PDF file. It says nothing of the clock, the machine or its fonts.

    Raises
    ------
    typst.TypstError
        An image is missing or cannot be decoded, or the template is at fault.

    References
    ----------
    [iso-19005-2] (PDF/A-2), level B; [iso-14289-1] (PDF/UA-1) for the tags.
    """
    import typst  # noqa: PLC0415 (25 MB, only where a paper is printed)

    with TemporaryDirectory(prefix="camerawright-") as folder:
        root = Path(folder)
        for source in files(__package__).joinpath("templates").iterdir():
            if source.name.endswith(".typ"):
                (root / source.name).write_bytes(source.read_bytes())
        image_files = {name: f"/image-{i}" for i, name in enumerate(sorted(images))}
        for name, file in image_files.items():
            (root / file[1:]).write_bytes(images[name])
        pdf, complaints = typst.compile_with_warnings(
            root / f"{template}.typ",
            root=root,
            font_paths=_fonts(),
            format="pdf",
            pdf_standards=["a-2b", "ua-1"],
            sys_inputs={
                "content": json.dumps(_printable(asdict(content))),
                "images": json.dumps(image_files),
                "signs": json.dumps(dict(SIGNS)),
            },
        )
    for complaint in complaints:
        warnings.warn(complaint, stacklevel=2)
    return pdf


def _printable(value: Any) -> Any:
    """The same value with dates in ISO form and every character one that can be printed."""
    if isinstance(value, dict):
        return {key: _printable(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_printable(item) for item in value]
    if value is None or isinstance(value, bool | int | float):
        return value
    return "".join(map(_printable_character, str(value)))


def _printable_character(character: str) -> str:
    """The character, or what stands in for it."""
    if character == "\n" or ord(character) in _code_points():
        return character
    return " " if category(character) == "Cc" else f"[U+{ord(character):04X}]"


def _font_folder() -> Path:
    """Where matplotlib keeps DejaVu; found without importing it."""
    spec = find_spec("matplotlib")
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf"


@cache
def _fonts() -> "Fonts":
    """No font of the machine, so that a paper looks the same everywhere."""
    from typst import Fonts  # noqa: PLC0415

    return Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[_font_folder()])


@cache
def _code_points() -> frozenset[int]:
    """What both weights can print."""
    from matplotlib.ft2font import FT2Font  # noqa: PLC0415

    regular, bold = (
        set(FT2Font(str(_font_folder() / name)).get_charmap()) for name in ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
    )
    return frozenset(regular & bold)
