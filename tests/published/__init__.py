"""Published check values, one TOML per source, and the one way to read them.

`tests/published/KEY.toml`::

    key = "jcgm-100"                       # its entry in docs/sources.md
    source = "JCGM 100:2008 (GUM)"         # how a reader finds it
    basis = "..."                          # how we came by the numbers: read, quoted in ..., from memory
    users = ["..."]                        # the tests that use it

    [values.h1_u_nm]                       # the name a test asks for
    printed = "32"                         # to the letter, in a string; spaces between digits are allowed
    where = "H.1.4"                        # page, table or clause
    unit = "nm"                            # optional
    basis = "from memory"                  # optional: where this value's basis differs

A number printed as ``"32"`` means 32 ± 0.5: the tolerance comes from the page, never from us.
"""

import math
import tomllib
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

_HERE = Path(__file__).parent


@dataclass(frozen=True)
class Printed:
    """A printed number: its value and half a unit of its last printed digit."""

    value: float
    half_unit: float
    where: str = ""
    unit: str = ""

    def holds(self, computed: float) -> bool:
        """Whether a computed number, rounded as the page rounds, is what the page prints."""
        slack = 4 * math.ulp(abs(self.value) + self.half_unit)
        return abs(computed - self.value) <= self.half_unit + slack

    def __str__(self) -> str:
        return f"{self.value:g} ± {self.half_unit:g} {self.unit} ({self.where})"


@dataclass(frozen=True)
class Source:
    """A published source and the numbers printed in it."""

    key: str
    source: str
    basis: str
    users: tuple[str, ...]
    values: dict[str, Printed]

    def __getitem__(self, name: str) -> Printed:
        return self.values[name]


def printed(text: str, where: str = "", unit: str = "") -> Printed:
    """Turn a number as printed (``"0.0931"``, ``"50 000 838"``, ``"3.2e-3"``) into value ± half its last digit."""
    number = Decimal(text.replace(" ", "").replace("\N{MINUS SIGN}", "-"))
    exponent = number.as_tuple().exponent
    assert isinstance(exponent, int), f"not a finite number: {text!r}"
    return Printed(float(number), float(Decimal(5).scaleb(exponent - 1)), where, unit)


def load(key: str) -> Source:
    """Read ``tests/published/KEY.toml``."""
    with (_HERE / f"{key}.toml").open("rb") as file:
        raw = tomllib.load(file)
    assert raw["key"] == key, f"{key}.toml calls itself {raw['key']!r}"
    values = {
        name: printed(row["printed"], row["where"], row.get("unit", "")) for name, row in raw.get("values", {}).items()
    }
    return Source(key, raw["source"], raw["basis"], tuple(raw["users"]), values)


def keys() -> tuple[str, ...]:
    """The keys of all published sources at hand."""
    return tuple(sorted(path.stem for path in _HERE.glob("*.toml")))
