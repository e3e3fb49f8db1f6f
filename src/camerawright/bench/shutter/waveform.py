"""Lanes of a leaf shutter: its light as recorded and as undone."""

from camerawright.bench.contract import Json
from camerawright.bench.waveform import LanePlan, Plan, Window, margin_s, undoing


def plan(record: Json) -> Plan:
    """The light as recorded and as undone."""
    told = record["input"]
    windows, spans = [], []
    for shot in record["firings"]:
        start_s, stop_s = shot["at_s"], shot["at_s"] + shot["total_s"]
        dark_s = margin_s(shot["total_s"])
        spans.append((start_s, stop_s))
        windows.append(
            Window(
                from_s=start_s - dark_s,
                to_s=stop_s + dark_s,
                dark_to_s=start_s - 0.6 * dark_s,
                dark_from_s=stop_s + 0.6 * dark_s,
                level_fs=shot["level_fs"],
            )
        )
    i_channel = told["channel"] - 1
    return Plan(
        lanes=(
            LanePlan(name="as recorded", i_channel=i_channel),
            LanePlan(name="undone", i_channel=i_channel, undoing=undoing(told, tuple(windows))),
        ),
        spans_s=tuple(spans),
        i_widths=1,
        legend=(
            "Above as recorded; below the light, its AC coupling undone: dotted its level, dashed the total time from"
            " 10 % to 10 %, the bar at half the width at half the level, hatched the effective time, with its 95 %"
            " interval at the right end."
        ),
    )
