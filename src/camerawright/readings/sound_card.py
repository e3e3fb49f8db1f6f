"""What the readings of a workshop told of each input of a sound card: folded from their records, as lore is.

An input is known by the name that was given with a reading. No recording is read.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from camerawright.job.remembered import Remembered
from camerawright.journal.entries import Measured, part_key
from camerawright.journal.state import State
from camerawright.numeric.instrument import Instrument, agrees, combined
from camerawright.readings.lately import MOST_JOBS, lately
from camerawright.readings.recorded import record_of, test_of
from camerawright.readings.set_up import told_of
from camerawright.readings.validity import in_force
from camerawright.store.workshop import Workshop


@dataclass(frozen=True, kw_only=True)
class Heard:
    """What one recording told of its input, by itself."""

    at: datetime
    input: str
    recording: str
    alone: Instrument


_HEARD: Remembered[tuple[Heard, ...]] = Remembered(n_most=MOST_JOBS)


def known(workshop: Workshop, name: str, *, but: str = "") -> Instrument | None:
    """What earlier recordings told of the coupling of an input; None where none did.

    Parameters
    ----------
    name
        Of the input, as it was given; case and spacing do not matter.
    but
        SHA-256 of a recording that is left out: the one that is to be measured, which must not count twice.
    """
    return folded(
        each.alone for each in _heard(workshop) if part_key(each.input) == part_key(name) and each.recording != but
    )


def names(workshop: Workshop) -> tuple[str, ...]:
    """The inputs of which something is known, the one that was used last first."""
    return tuple({part_key(each.input): each.input for each in reversed(_heard(workshop))}.values())


def folded(told: Iterable[Instrument]) -> Instrument | None:
    """What recordings tell together, oldest first.

    One that does not agree with what is known is left out. Two in a row that do not, and agree with each other, take
    its place: the input was set otherwise, or another card has its name.
    """
    known: Instrument | None = None
    other: Instrument | None = None
    for each in told:
        if known is None or _agree(known, each):
            known, other = combined(known, each.a_per_s, each.b_per_s2, each.covariance), None
        elif other is None or not _agree(other, each):
            other = each
        else:
            known, other = combined(other, each.a_per_s, each.b_per_s2, each.covariance), None
    return known


def _agree(known: Instrument, told: Instrument) -> bool:
    return agrees(known, told.a_per_s, told.b_per_s2, told.covariance)


def _heard(workshop: Workshop) -> tuple[Heard, ...]:
    """What every late recording told, by the time of its reading; measured again, as last read."""
    told: dict[str, Heard] = {}
    of_jobs = [each for heard in lately(workshop, _HEARD, _from).values() for each in heard]
    for each in sorted(of_jobs, key=lambda each: each.at):
        told.pop(each.recording, None)
        told[each.recording] = each
    return tuple(told.values())


def _from(state: State) -> tuple[Heard, ...]:
    return tuple(heard for reading in in_force(state) if (heard := _of(reading)))


def _of(reading: Measured) -> Heard | None:
    """What one reading tells of an input, where it names one."""
    name, test = told_of(reading).input, test_of(reading)
    if name is None or test is None or test.remembered is None:
        return None
    record = record_of(reading)
    if record.refused:
        return None
    alone = test.remembered(record)
    return Heard(at=reading.at, input=name, recording=reading.recording, alone=alone) if alone else None
