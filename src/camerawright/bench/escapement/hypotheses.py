"""What a beat may point to: hypotheses, each with the test that tells it from the others. Common practice
throughout."""

from collections.abc import Sequence

from camerawright.bench.escapement.record import Hypothesis, Run
from camerawright.wording import numbers

_UNEVEN = 0.04
_OUT_OF_BEAT = 0.15
_SLOWING = 0.10
_SAME_PLACE = 0.05  # of the run


_POSITIONS = (
    "Record ten firings with the lens up, ten with it down, ten with it level, and ten more after an hour in warmth."
    " What changes with position or warmth is drag on a pivot: clean it. What stays is engagement: mark the pallet's"
    " screw, back the pallet off by a hair, and record again. If the beat evens out and quickens, the pallet was too"
    " deep. If it does not, put the pallet back."
)


def hypotheses(runs: Sequence[Run]) -> tuple[Hypothesis, ...]:
    """What is worth testing; none for an even beat."""
    out = []
    uneven = [run for run in runs if run.unevenness.interval[0] > _UNEVEN or run.late]
    stalled = [run for run in runs if run.stalls]
    if stalled:
        out.append(_of_stalls(stalled))
    if uneven:
        out.append(
            Hypothesis(
                f"an uneven beat in {len(uneven)} of {numbers.counted(len(runs), 'run')}",
                "dirt or old oil on a pivot, or a pallet that engages too deep",
                _POSITIONS,
            )
        )
    if any(run.alternation.interval[0] > _OUT_OF_BEAT for run in runs):
        out.append(
            Hypothesis(
                "every other beat is longer",
                "one face of the pallet engages deeper than the other, or is worn",
                "Look at both faces under the loupe; turn the star wheel by hand and compare the drop on each side.",
            )
        )
    if any(run.drift.interval[0] > _SLOWING for run in runs):
        out.append(
            Hypothesis(
                "the beat slows along the run",
                "the driving spring runs out of force, or drag grows along the segment's way",
                "Move the cocked train by hand with the escapement lifted off: it must run on by itself to the end.",
            )
        )
    return tuple(out)


def _of_stalls(stalled: list[Run]) -> Hypothesis:
    """The same place each time, or here and there."""
    parts = [stall.part for run in stalled for stall in run.stalls]
    if len(stalled) > 1 and max(parts) - min(parts) < _SAME_PLACE:
        return Hypothesis(
            f"it stands still at the same place, {numbers.percent(sum(parts) / len(parts))} along, in {len(stalled)}"
            " runs",
            "a bent or burred tooth, or dirt between two teeth, that comes round at that place",
            "Mark the wheels where they stand at the stall, and look at the teeth in mesh there under the loupe.",
        )
    return Hypothesis(
        "it stands still within the run" if len(stalled) == 1 else "it stands still, at a place that changes",
        "dirt or old oil on a pivot, a pallet that engages too deep, or a weak driving spring",
        _POSITIONS,
    )
