"""Tolerance profiles for shutter speeds: editable data, each row with its source.

ISO 516 prints *target* values "not intended for application as a general inspection standard"; so a verdict here is
always against a named profile, never against the standard.
"""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from importlib import resources
from pathlib import Path

from camerawright.handbook.exposure import marked_speed
from camerawright.trouble import NotUnderstood, Unreadable

DEFAULT = "user"
"""The profile that is used when none is named."""

_REACH_STOPS = 0.5  # a speed between two rows belongs to the nearer one, up to half a stop away


@dataclass(frozen=True)
class Limits:
    """How far a speed may be off, in stops from its target (positive is slow), and who says so."""

    lower_ev: float
    upper_ev: float
    source: str


@dataclass(frozen=True)
class Row:
    """The limits of the speeds from the slowest (`from_s`) to the fastest (`to_s`)."""

    from_s: float
    to_s: float
    limits: Limits


@dataclass(frozen=True)
class Profile:
    """A named set of limits."""

    name: str
    title: str
    rows: tuple[Row, ...]


def builtin_profiles() -> tuple[Profile, ...]:
    """The profiles that come along, in the order of their names."""
    folder = resources.files("camerawright.handbook") / "profiles"
    return tuple(
        parse_profile(entry.read_text(encoding="utf-8"), entry.name.removesuffix(".toml"))
        for entry in sorted(folder.iterdir(), key=lambda entry: entry.name)
        if entry.name.endswith(".toml")
    )


def find_profile(name_or_path: str) -> Profile:
    """A profile that comes along by its name, or one of the user's own by the path of its TOML file.

    Raises
    ------
    NotUnderstood
        There is no profile of that name.
    Unreadable
        As `read_profile`.
    """
    for profile in builtin_profiles():
        if profile.name == name_or_path:
            return profile
    if name_or_path.endswith(".toml"):
        return read_profile(Path(name_or_path))
    names = ", ".join(profile.name for profile in builtin_profiles())
    raise NotUnderstood(f"no tolerance profile is called {name_or_path!r}", f"use {names}, or the path of a .toml file")


def read_profile(path: Path) -> Profile:
    """Read a profile from a TOML file, as those that come along are written.

    Raises
    ------
    Unreadable
        The file is missing or unreadable, is not TOML, or a row is wrong; the message names the row and the mend.
    """
    if path.exists() and not path.is_file():  # a pipe would never answer
        raise Unreadable("it is no plain file", "check the path", str(path))
    try:
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise Unreadable("this is not text in UTF-8", "save it as plain UTF-8 text", path.name) from None
    except OSError as error:
        raise Unreadable(error.strerror or str(error), "check the path", str(path)) from None
    return parse_profile(text, path.stem)


def parse_profile(text: str, name: str) -> Profile:
    """Turn the TOML text of a profile into one.

    Raises
    ------
    Unreadable
        As `read_profile`.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Unreadable(f"this is not TOML: {error}", "mend that line", f"profile {name}") from None
    unknown = set(raw) - {"title", "speeds"}
    if unknown:
        raise Unreadable(
            f"unknown key: {', '.join(sorted(unknown))}", "give title and [[speeds]] only", f"profile {name}"
        )
    speeds = raw.get("speeds")
    if not isinstance(speeds, list) or not speeds:
        raise Unreadable(
            "there are no [[speeds]]",
            "give at least one row with from, to, lower_ev, upper_ev, source",
            f"profile {name}",
        )
    rows = tuple(_row(row, f"profile {name}, row {n}") for n, row in enumerate(speeds, start=1))
    _refuse_overlap(rows, name)
    return Profile(name, str(raw.get("title", name)), rows)


def limits(profile: Profile, target_s: float) -> Limits | None:
    """The limits for a speed, or None where the profile has none for it.

    A speed between two rows belongs to the nearer one, up to half a stop away.
    """
    distance, nearest = min(((_distance(row, target_s), row) for row in profile.rows), key=lambda pair: pair[0])
    return nearest.limits if distance <= _REACH_STOPS else None


def _distance(row: Row, target_s: float) -> float:
    """How far a speed is beyond the end of a row, in stops; 0 inside."""
    return max(0.0, math.log2(target_s / row.from_s), math.log2(row.to_s / target_s))


def _row(raw: object, where: str) -> Row:
    """One row, checked."""
    keys = {"from", "to", "lower_ev", "upper_ev", "source"}
    if not isinstance(raw, Mapping) or set(raw) != keys:
        raise Unreadable("keys are missing or unknown", f"give exactly {', '.join(sorted(keys))}", where)
    try:
        from_s, to_s = (marked_speed(str(raw[end])).target_s for end in ("from", "to"))
    except NotUnderstood as error:
        raise Unreadable(error.what, error.mend, where) from None
    if from_s < to_s:
        raise Unreadable(f"from {raw['from']} is faster than to {raw['to']}", "write the slowest first", where)
    lower_ev, upper_ev = (_ev(raw[end], f"{where}, {end}") for end in ("lower_ev", "upper_ev"))
    if not lower_ev < upper_ev:
        raise Unreadable("lower_ev is not below upper_ev", "write the lower limit first", where)
    if not str(raw["source"]).strip():
        raise Unreadable("source is empty", 'name the source, or write "common practice"', where)
    return Row(from_s, to_s, Limits(lower_ev, upper_ev, str(raw["source"])))


def _ev(raw: object, where: str) -> float:
    """A number of stops, written 0.5 or "1/3" or "-1/3"."""
    if isinstance(raw, bool) or not isinstance(raw, int | float | str):
        raise Unreadable("this is not a number of stops", 'write 0.5 or "-1/3"', where)
    try:
        value = float(Fraction(raw.replace(" ", "")) if isinstance(raw, str) else raw)
    except (ValueError, ZeroDivisionError):
        raise Unreadable(f"{raw!r} is not a number of stops", 'write 0.5 or "-1/3"', where) from None
    if not abs(value) <= 10:
        raise Unreadable(f"{raw!r} is beyond ten stops", "give a limit within ten stops", where)
    return value


def _refuse_overlap(rows: tuple[Row, ...], name: str) -> None:
    """A speed must have one tolerance only."""
    for n, row in enumerate(rows, start=1):
        for m, other in enumerate(rows[n:], start=n + 1):
            if row.to_s < other.from_s * (1 + 1e-9) and other.to_s < row.from_s * (1 + 1e-9):
                raise Unreadable(f"rows {n} and {m} overlap", "give each speed in one row only", f"profile {name}")
