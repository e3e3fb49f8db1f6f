"""What is drawn of a recording beside the samples: lanes as recorded and as undone, and what a test found in them."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final, Literal

from camerawright.bench.contract import Json

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
class Plan:
    """Everything drawn of a recording.

    `spans_s` is from where to where each firing goes; `i_widths` is the lane in which the widths of a leaf shutter's
    firings are drawn.
    """

    lanes: tuple[LanePlan, ...]
    marks: tuple[Mark, ...] = ()
    spans_s: tuple[tuple[float, float], ...] = ()
    i_widths: int | None = None
    legend: str = ""


def plan(record: Json | None, n_channels: int) -> Plan:
    """What to draw of a recording of so many channels, with what a reading's record says of it."""
    if record and record.get("firings") and record.get("input"):
        of_test = _PLANS.get(record["test"])
        if of_test is not None:
            return of_test(record)
    return Plan(lanes=tuple(LanePlan(name=_channel_name(i, n_channels), i_channel=i) for i in range(n_channels)))


def has_waveform(record: Json) -> bool:
    """Whether the recording of a record is sound."""
    return bool((record.get("input") or {}).get("rate_hz"))


def _channel_name(i_channel: int, n_channels: int) -> str:
    return "as recorded" if n_channels == 1 else f"channel {i_channel + 1}, as recorded"


def _poles(told: Json) -> tuple[float, float, float]:
    """How a record says that its coupling is undone."""
    return told["undo_a_per_s"], told["undo_b_per_s2"], told["undo_e_per_s2"]


def _leaf(record: Json) -> Plan:
    """The light as recorded and as undone."""
    told, windows, spans = record["input"], [], []
    for shot in record["firings"]:
        start_s, stop_s = shot["at_s"], shot["at_s"] + shot["total_s"]
        margin_s = max(6e-3, 0.3 * shot["total_s"])
        spans.append((start_s, stop_s))
        windows.append(
            Window(
                from_s=start_s - margin_s,
                to_s=stop_s + margin_s,
                dark_to_s=start_s - 0.6 * margin_s,
                dark_from_s=stop_s + 0.6 * margin_s,
                level_fs=shot["level_fs"],
            )
        )
    undoing = Undoing(sign=-1 if told["is_inverted"] else 1, poles=_poles(told), windows=tuple(windows))
    i_channel = told["channel"] - 1
    return Plan(
        lanes=(
            LanePlan(name="as recorded", i_channel=i_channel),
            LanePlan(name="undone", i_channel=i_channel, undoing=undoing),
        ),
        spans_s=tuple(spans),
        i_widths=1,
        legend=(
            "Above as recorded; below the light, its AC coupling undone: dotted its level, dashed the total time from"
            " 10 % to 10 %, the bar at half the width at half the level, hatched the effective time, with its 95 %"
            " interval at the right end."
        ),
    )


def _curtains(record: Json) -> Plan:
    """Each sensor's light as recorded and as undone, with the passages of both curtains."""
    told, shots = record["input"], record["firings"]
    spans = tuple(
        (min(one["first_s"] for one in shot["sensors"]), max(one["second_s"] for one in shot["sensors"]))
        for shot in shots
    )
    places = sorted({one["channel"]: one["at_mm"] for shot in shots for one in shot["sensors"]}.items(), key=_second)
    lanes: list[LanePlan] = [
        LanePlan(name=f"{at_mm:g} mm, as recorded", i_channel=channel - 1) for channel, at_mm in places
    ]
    marks: list[Mark] = []
    for channel, at_mm in places:
        windows: list[Window] = []
        for shot, (begin_s, end_s) in zip(shots, spans, strict=True):
            margin_s = max(6e-3, 0.3 * (end_s - begin_s))
            for one in (one for one in shot["sensors"] if one["channel"] == channel):
                windows.append(
                    Window(
                        from_s=begin_s - margin_s,
                        to_s=end_s + margin_s,
                        dark_to_s=one["first_s"] - 0.3 * margin_s,
                        dark_from_s=one["second_s"] + 0.6 * margin_s,
                        level_fs=one["level_fs"],
                    )
                )
                where = f"curtain at {at_mm:g} mm"
                marks += [
                    Mark(at_s=one["first_s"], name=f"first {where}", sign="up", i_lane=len(lanes)),
                    Mark(at_s=one["second_s"], name=f"second {where}", sign="down", i_lane=len(lanes)),
                ]
        by = told["channels"][channel - 1]
        undoing = Undoing(sign=-1 if by["is_inverted"] else 1, poles=_poles(by), windows=tuple(windows))
        lanes.append(LanePlan(name=f"{at_mm:g} mm, undone", i_channel=channel - 1, undoing=undoing))
    return Plan(
        lanes=tuple(lanes),
        marks=tuple(marks),
        spans_s=spans,
        legend=(
            "Each sensor as recorded, then each with its AC coupling undone: ▲ the first curtain passes it, ▼ the"
            " second."
        ),
    )


def _second(pair: tuple[int, float]) -> float:
    return pair[1]


def _sync(record: Json) -> Plan:
    """Light and contact as recorded, with full opening, make and break."""
    i_light = record["input"]["light_channel"] - 1
    marks: list[Mark] = []
    spans = []
    for shot in record["firings"]:
        ends = [shot["at_s"], shot["at_s"] + shot["half_peak_s"]]
        if shot["has_closed"]:
            ends += [shot["make_s"], shot["break_s"]]
            full = next((one for one in shot["delays"] if one["from"] == "full open"), None)
            if full is not None and shot["open_for_s"] is not None:
                open_s = shot["make_s"] - full["delay_s"]
                marks.append(Mark(at_s=open_s, to_s=open_s + shot["open_for_s"], name="fully open", sign="span"))
            marks.append(Mark(at_s=shot["make_s"], name="make", sign="line"))
            marks.append(Mark(at_s=shot["break_s"], name="break", sign="dashed"))
        spans.append((min(ends), max(ends)))
    return Plan(
        lanes=(
            LanePlan(name="light, as recorded", i_channel=i_light),
            LanePlan(name="contact, as recorded", i_channel=1 - i_light),
        ),
        marks=tuple(marks),
        spans_s=tuple(spans),
        legend="Hatched where the shutter is fully open; the line is the contact's make, dashed its break.",
    )


def _escapement(record: Json) -> Plan:
    """The sound with every beat, the stalls, and opening and closing where they were heard."""
    return Plan(
        lanes=(LanePlan(name="sound, as recorded", i_channel=0),),
        marks=tuple(mark for run in record["firings"] for mark in _run_marks(run)),
        spans_s=tuple((run["at_s"], run["stop_s"]) for run in record["firings"]),
        legend="A tick at the foot for every beat; hatched where the train stands still; the lines are what was taken"
        " for opening and closing.",
    )


def _run_marks(run: Json) -> Iterator[Mark]:
    """Of one run."""
    for stall in run["stalls"]:
        yield Mark(at_s=stall["at_s"], to_s=stall["at_s"] + stall["length_s"], name="stall", sign="span")
    for i, beat in enumerate(run["beats"], start=1):
        yield Mark(at_s=beat["at_s"], name=f"beat {i}", sign="tick")
    if not run["open_close"]["refused"]:
        yield Mark(at_s=run["open_close"]["open_s"], name="opens", sign="line")
        yield Mark(at_s=run["open_close"]["close_s"], name="closes", sign="dashed")


_PLANS: Final[dict[str, Callable[[Json], Plan]]] = {
    "shutter": _leaf,
    "curtains": _curtains,
    "sync": _sync,
    "escapement": _escapement,
}
