"""Lanes of a slow train: the channel that was heard, with its beats and stalls."""

from collections.abc import Iterator

from camerawright.bench.contract import Json
from camerawright.bench.waveform import LanePlan, Mark, Plan


def plan(record: Json) -> Plan:
    """The sound with every beat, the stalls, and opening and closing where they were heard."""
    i_heard = record["input"]["channel"] - 1
    return Plan(
        lanes=(LanePlan(name="sound, as recorded", i_channel=i_heard),),
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
