"""Lanes of a focal plane: each sensor's light as recorded and as undone, and where the curtains pass it."""

from camerawright.bench.contract import Json
from camerawright.bench.waveform import LanePlan, Mark, Plan, Window, margin_s, undoing


def plan(record: Json) -> Plan:
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
            dark_s = margin_s(end_s - begin_s)
            for one in (one for one in shot["sensors"] if one["channel"] == channel):
                windows.append(
                    Window(
                        from_s=begin_s - dark_s,
                        to_s=end_s + dark_s,
                        dark_to_s=one["first_s"] - 0.3 * dark_s,
                        dark_from_s=one["second_s"] + 0.6 * dark_s,
                        level_fs=one["level_fs"],
                    )
                )
                where = f"curtain at {at_mm:g} mm"
                marks += [
                    Mark(at_s=one["first_s"], name=f"first {where}", sign="up", i_lane=len(lanes)),
                    Mark(at_s=one["second_s"], name=f"second {where}", sign="down", i_lane=len(lanes)),
                ]
        light = undoing(told["channels"][channel - 1], tuple(windows))
        lanes.append(LanePlan(name=f"{at_mm:g} mm, undone", i_channel=channel - 1, undoing=light))
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
