"""Lanes of a flash contact: the light and the contact, and where it makes and breaks."""

from camerawright.bench.contract import Json
from camerawright.bench.waveform import LanePlan, Mark, Plan


def plan(record: Json) -> Plan:
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
