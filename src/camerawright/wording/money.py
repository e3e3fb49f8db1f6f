"""Prices as they are typed: ``12.50``, ``12,50``, ``1 250``, ``1.250,00``; never a group of three taken for cents."""

import re
from typing import Final

from camerawright.trouble import NotUnderstood
from camerawright.wording.spoken import in_plain_signs

_PLAIN: Final = re.compile(r"([+-]?)(\d{0,10})(?:[.,](\d{0,2}))?", re.A)
_GROUPED: Final = re.compile(
    r"([+-]?)(?!0)(\d{1,3}(?P<sign>[ ,.'’])\d{3}(?:(?P=sign)\d{3}){0,2})(?:(?!(?P=sign))[.,](\d{1,2}))?", re.A
)
_SPACES: Final = re.compile(r"[\s\u00a0\u2009\u202f]+")


def price_minor(text: str, digits: int) -> int:
    """A price in the minor unit: in cents, if the currency has `digits` = 2.

    Three digits behind one comma or point may be thousands, or a slip: that is asked about.

    Raises
    ------
    NotUnderstood
        It is no price, or may be two.
    """
    written = _SPACES.sub(" ", in_plain_signs(text.strip()))
    grouped = _GROUPED.fullmatch(written)
    if grouped and grouped["sign"] in ",." and len(grouped[2]) < 8 and not grouped[4]:
        whole, rest = re.split(r"[,.]", grouped[2])
        fraction = rest.rstrip("0").ljust(digits, "0")
        either = f" or {whole}.{fraction}" if len(fraction) <= digits else ", or a price like 4.50"
        raise NotUnderstood(f"“{text[:40]}”: thousands, or a decimal?", f"write {whole}{rest}.00{either}")
    found = grouped or _PLAIN.fullmatch(written)
    whole = re.sub(r"\D", "", found[2]) if found else ""
    cents = (found[4] if grouped else found[3]) or "" if found else ""
    if found is None or not (whole or cents):
        raise NotUnderstood(f"“{text[:40]}” is not a price", "write it like 4.50")
    amount = int(f"{whole}{cents.ljust(digits, '0')}")
    return -amount if found[1] == "-" else amount
