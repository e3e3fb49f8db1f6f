"""What is drawn of a recording: what its test says of a measurement; without one, every channel as recorded."""

from camerawright.bench.catalogue import find_test
from camerawright.bench.contract import Json
from camerawright.bench.waveform import LanePlan, Plan


def plan(record: Json | None, n_channels: int) -> Plan:
    """What to draw of a recording of so many channels, with what a reading's record says of it."""
    if record and record["firings"]:
        lanes = find_test(record["test"]).lanes
        if lanes is not None:
            return lanes(record)
    return Plan(lanes=tuple(LanePlan(name=_channel_name(i, n_channels), i_channel=i) for i in range(n_channels)))


def has_waveform(record: Json) -> bool:
    """Whether the recording of a record is sound."""
    return bool((record.get("input") or {}).get("rate_hz"))


def _channel_name(i_channel: int, n_channels: int) -> str:
    return "as recorded" if n_channels == 1 else f"channel {i_channel + 1}, as recorded"
