"""The beat of the slow train by sound: wires the parts of the test."""

from dataclasses import replace

from camerawright.bench.contract import SOUND, BenchTest, Marked
from camerawright.bench.escapement import measure, plot, simulate, tell
from camerawright.bench.escapement.hypotheses import hypotheses
from camerawright.bench.escapement.record import EscapementRecord
from camerawright.bench.escapement.speeds import at_speeds
from camerawright.bench.marked_speeds import marks_in
from camerawright.bench.record import Refusal
from camerawright.handbook.tolerances import Profile
from camerawright.recordings.channel import Recording
from camerawright.recordings.sound import Waveform, simulated
from camerawright.trouble import NotMeasurable


def run(
    recording: Recording,
    marked: str | None = None,
    profile: Profile | None = None,
) -> EscapementRecord:
    """Measure a recording; the slowest mark says whether sound may time the opening at all."""
    marks = marks_in(marked) if marked else ()
    try:
        found = measure.measure(recording, target_s=max((mark.target_s for mark in marks), default=None))
    except NotMeasurable as why:
        return EscapementRecord(test=TEST.name, method=measure.METHOD, refused=Refusal.of(why))
    runs, speeds = at_speeds(found, marks)
    return EscapementRecord(
        test=TEST.name,
        method=measure.METHOD,
        runs=runs,
        skipped=found.skipped,
        flags=found.flags,
        input=found.input,
        at_speeds=speeds,
        hypotheses=hypotheses(runs),
    )


def example(seed: int) -> Waveform:
    """Three firings of a 1 s: a beat that is uneven and slows, misses one and stalls."""
    scene = simulate.example(seed)
    samples, _ = simulate.recording(scene, seed)
    return simulated(samples, scene.room.rate_hz, scene.room.bits)


TEST: BenchTest[EscapementRecord] = BenchTest(
    name="escapement",
    title="Slow train by sound",
    method=measure.METHOD,
    setup=(
        "Lay the camera on something soft in a quiet room, and hold the microphone a few centimetres from the shutter."
        " Switch off noise suppression and automatic gain. Record WAV or FLAC at 44.1 kHz or more. Set 1 s, or the slow"
        " speeds one after the other, and fire each three times or more, a second apart, always held the same way. Use"
        " it to compare a train before and after the work: time the exposure by light."
    ),
    record=EscapementRecord,
    run=run,
    simulate=example,
    plots=plot.figures,
    lines=tell.lines,
    words=tell.words,
    table=tell.table,
    medium=replace(SOUND, takes="WAV or FLAC of the sound of a slow speed."),
    marked=Marked(speeds=tell.dial, compares=False),
    waveform=plot.plan,
    fired=tell.fired,
)
