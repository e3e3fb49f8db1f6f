"""The beat of the slow train by sound: wires the parts of the test."""

from typing import TYPE_CHECKING

from camerawright.bench.contract import BenchTest, Outcome
from camerawright.bench.escapement import measure, plot, report, simulate, speeds, waveform
from camerawright.bench.marked_speeds import marks_in
from camerawright.handbook.tolerances import Profile
from camerawright.recordings.channel import Recording
from camerawright.recordings.sound import Waveform, open_sound, simulated
from camerawright.trouble import NotMeasurable

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def run(
    recording: Recording,
    marked: str | None = None,
    profile: Profile | None = None,
) -> Outcome:
    """Measure a recording; the slowest mark says whether sound may time the opening at all."""
    marks = marks_in(marked) if marked else ()
    try:
        result = measure.measure(recording, target_s=max((mark.target_s for mark in marks), default=None))
    except NotMeasurable as why:
        return Outcome(report.refused_as_json(why))
    return Outcome(report.as_json(result, speeds.speeds(result, marks)))


def example(seed: int) -> Waveform:
    """Three firings of a 1 s: a beat that is uneven and slows, misses one and stalls."""
    scene = simulate.example(seed)
    samples, _ = simulate.recording(scene, seed)
    return simulated(samples, scene.room.rate_hz, scene.room.bits)


def figures(recording: Recording, outcome: Outcome) -> "dict[str, Figure]":
    """The beat of the first run."""
    return {"beat": plot.beat_figure(recording, outcome.record)} if outcome.record["firings"] else {}


TEST = BenchTest(
    name="escapement",
    title="Slow train by sound",
    method=measure.METHOD,
    setup=(
        "Microphone a few centimetres from the shutter, the camera on something soft, a quiet room; noise suppression"
        " and"
        " automatic gain off. Set 1 s, or the slow speeds one after the other; three"
        " firings or more of each, a second apart, held the same way."
        " WAV or FLAC at 44.1 kHz or more. For comparing a train before and after the work: exposure is timed by light."
    ),
    run=run,
    simulate=example,
    plots=figures,
    card=lambda as_found, as_left: None,
    lines=lambda outcome: report.lines(outcome.record),
    words=plot.words,
    lanes=waveform.plan,
    read=open_sound,
    takes="WAV or FLAC of the sound of a slow speed.",
)
