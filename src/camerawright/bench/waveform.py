"""What is drawn over the whole of a sound recording: lanes as recorded and as undone, and what a test found in them."""

from dataclasses import dataclass
from typing import Literal, Protocol

Sign = Literal["line", "dashed", "span", "up", "down", "tick"]
"""A line over the lane, whole or dashed; a stretch of time; a triangle at half height; a tick at the foot."""


@dataclass(frozen=True, kw_only=True)
class Window:
    """A stretch in which the light is undone: dark up to `dark_to_s` and again from `dark_from_s`, which is zero.

    `level_fs` is the light of full opening, which is one.
    """

    from_s: float
    to_s: float
    dark_to_s: float
    dark_from_s: float
    level_fs: float


@dataclass(frozen=True, kw_only=True)
class Undoing:
    """How the input's coupling is undone, and where."""

    sign: float
    poles: tuple[float, float, float]
    windows: tuple[Window, ...]


@dataclass(frozen=True, kw_only=True)
class LanePlan:
    """One lane: a channel as recorded, in per cent of full scale; or undone, in parts of full opening."""

    name: str
    i_channel: int
    undoing: Undoing | None = None


@dataclass(frozen=True, kw_only=True)
class Mark:
    """Something a test found, at a moment or from one to another; in one lane, or in all where `i_lane` is None."""

    at_s: float
    name: str
    sign: Sign
    to_s: float | None = None
    i_lane: int | None = None


@dataclass(frozen=True, kw_only=True)
class Widths:
    """The widths of one firing of a leaf shutter: `expanded_s` is half the 95 % interval of the effective time."""

    at_s: float
    total_s: float
    half_peak_s: float
    effective_s: float
    expanded_s: float
    level_fs: float


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Everything drawn of a recording.

    `spans_s` is from where to where each firing goes; `widths` are those of a leaf shutter's firings, drawn in the lane
    `i_widths`.
    """

    lanes: tuple[LanePlan, ...]
    marks: tuple[Mark, ...] = ()
    spans_s: tuple[tuple[float, float], ...] = ()
    widths: tuple[Widths, ...] = ()
    i_widths: int | None = None
    legend: str = ""


class Undone(Protocol):
    """How the coupling of a channel was undone, as a record tells it."""

    @property
    def is_inverted(self) -> bool: ...
    @property
    def undo(self) -> tuple[float, float, float]: ...


def undoing(told: Undone, windows: tuple[Window, ...]) -> Undoing:
    """How a channel's coupling is undone, as the record tells it of that channel."""
    return Undoing(sign=-1 if told.is_inverted else 1, poles=told.undo, windows=windows)


def margin_s(length_s: float) -> float:
    """How much is undone before and after a firing of a length: enough dark to lay a line through."""
    return max(6e-3, 0.3 * length_s)
