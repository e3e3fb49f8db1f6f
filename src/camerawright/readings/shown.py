"""How a reading is shown: the text that tables and papers print, already rounded."""

from dataclasses import dataclass

from camerawright.quantity import Word


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One reading: `value` with its unit ("1/310 s"), `error` in the unit of its table, `expanded_u` likewise."""

    value: str
    error: str
    n: int
    expanded_u: str | None = None
    verdict: Word | None = None


@dataclass(frozen=True, kw_only=True)
class ReadingRow:
    """A marked value and what was read there, before and after the work."""

    marked: str
    as_found: Reading | None = None
    as_left: Reading | None = None


@dataclass(frozen=True, kw_only=True)
class ToldReading:
    """A figure with its unit and ± half its 95 % interval in one text; `n` is None where a count means nothing."""

    read: str
    n: int | None = None
    verdict: Word | None = None


@dataclass(frozen=True, kw_only=True)
class ToldRow:
    """A named figure that is no error against a marked value; `marked` is the speed that was set, if any."""

    what: str  # "class X, from full open"
    marked: str = ""
    as_found: ToldReading | None = None
    as_left: ToldReading | None = None
