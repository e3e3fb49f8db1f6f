"""Which readings still hold: what makes one void, and which were entered at another time than they say."""

from collections.abc import Sequence

from camerawright.journal.entries import Adjusted, Measured, Refitted, Removed, part_key
from camerawright.journal.state import State
from camerawright.journal.work_begun import WorkBegun
from camerawright.readings.recorded import test_of

_MOST_NAMED = 3


def void(state: State) -> dict[str, str]:
    """Readings that something made void since, by their entries' ids: why.

    Its recording was measured again, at another mark or with more told of the set-up. Or, as left: a part that came
    off, or an adjuster that was turned for that very test, after the reading: it is no longer how the camera is left.
    """
    newest = {_what(reading): reading for reading in state.measured}
    found = {
        reading.id: _again(reading, newest[_what(reading)])
        for reading in state.measured
        if newest[_what(reading)].id != reading.id
    }
    for reading in state.measured:
        if reading.phase != "as left":
            continue
        off = [part.name for part in state.parts.values() if part.removed and part.removed.at > reading.at]
        turned = [
            entry.adjuster
            for entry in state.entries
            if isinstance(entry, Adjusted)
            and entry.at > reading.at
            and entry.test is not None
            and part_key(entry.test) == part_key(reading.test)
        ]
        why = [
            f"{', '.join(dict.fromkeys(names))} {done}"
            for names, done in ((off, "came off"), (turned, "was turned"))
            if names
        ]
        if why:
            found[reading.id] = f"{' and '.join(why)} after it was read"
    return found


def _what(reading: Measured) -> tuple[object, ...]:
    """What a reading is of, whatever was told of it: a recording counts once.

    A test that takes one mark at a time compares one speed of a recording that may hold several.
    """
    test = test_of(reading)
    is_of_one_speed = test is not None and test.marked is not None and test.marked.one_at_a_time
    return reading.test, reading.phase, reading.recording, reading.marked if is_of_one_speed else ""


def _again(reading: Measured, newer: Measured) -> str:
    """What was told differently when its recording was measured again."""
    return f"its recording was measured again, with another {'mark' if newer.marked != reading.marked else 'set-up'}"


def late(state: State) -> dict[str, str]:
    """Readings that were entered at another time than they say, by their entries' ids: why.

    As found after the work had begun, also once everything is back. As left while parts were off. They stay: a
    recording may have been made at another time than it was entered, and a test may need a part off.
    """
    found: dict[str, str] = {}
    begun = WorkBegun()
    off: dict[str, str] = {}
    for entry in state.entries:
        match entry:
            case Removed():
                off[part_key(entry.part)] = entry.part
            case Refitted():
                off.pop(part_key(entry.part), None)
            case Measured(phase="as found") if done := begun.in_words(entry):
                found[entry.id] = _after_the_work(entry, done)
            case Measured(phase="as left") if off:
                found[entry.id] = (
                    f"Entered as left after {_named(list(off.values()))} came off: measure again once it is whole, as"
                    " the owner gets it"
                )
        begun.take(entry)
    return found


def _after_the_work(reading: Measured, done: str) -> str:
    """That a reading as found was entered after the work, with the reason that somebody gave."""
    said = f"Entered as found after the work had begun ({done})"
    if reading.overruled:
        return f"{said}: “{reading.overruled}”"
    return f"{said}: if it was recorded after that too, it is not as found; strike it out then, and enter it as left"


def _named(names: Sequence[str]) -> str:
    """The first few names."""
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return f"{', '.join(names[:_MOST_NAMED])}{more}"


def in_force(state: State) -> tuple[Measured, ...]:
    """The readings that nothing made void."""
    is_void = void(state)
    return tuple(reading for reading in state.measured if reading.id not in is_void)
