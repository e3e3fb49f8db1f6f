"""`workshop.toml`: what the workshop puts on its papers, for a person to edit."""

from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from camerawright.store import media
from camerawright.trouble import Refused
from camerawright.workshop.rows import Terms

FILE_NAME: Final = "workshop.toml"
BLANK: Final = """\
# What this workshop puts on its certificates and bills. Edit it with any text editor.

name = "Unnamed bench"
address = ""
currency = "EUR"
hourly_rate_minor = 0        # for one hour, in the minor unit: 6500 is 65.00
# tax_percent = "19"         # a decimal in quotes; without this line no tax is printed
"""


def read_terms(path: Path) -> Terms:
    """Read the terms.

    Raises
    ------
    Refused
        The file cannot be read, or something in it cannot be understood; all of it is named at once.
    """
    import tomllib  # noqa: PLC0415  (only papers and bills need the terms)

    mend = f"edit {path.name}, or delete it and make the workshop again"
    try:
        media.check_plain(path)
        found = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise Refused(error.strerror or str(error), mend, str(path)) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise Refused(str(error), mend, str(path)) from error
    wrong = list(_wrong(found))
    if wrong:
        raise Refused("; ".join(wrong), mend, str(path))
    return Terms(**found)


def _wrong(found: dict[str, Any]) -> Iterator[str]:
    """What cannot be understood, in words."""
    known = [field.name for field in fields(Terms)]
    for name, value in found.items():
        if name not in known:
            yield f"{name} is unknown (known are {', '.join(known)})"
        elif name == "hourly_rate_minor":
            if type(value) is not int or value < 0:
                yield f"{name} must be a whole number, not negative"
        elif not isinstance(value, str):
            yield f"{name} must be a text in quotes"
        elif name == "tax_percent" and not _is_percent(value):
            yield f'{name} must be a decimal from 0 to 100 in quotes, as "19" or "7.5"'


def _is_percent(text: str) -> bool:
    """Whether a text is a decimal number from 0 to 100."""
    from decimal import Decimal, InvalidOperation  # noqa: PLC0415  (as above)

    try:
        return 0 <= Decimal(text) <= 100
    except InvalidOperation:
        return False
