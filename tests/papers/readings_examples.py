"""Readings of an invented shutter as a journal holds them, without a recording: each error is set, not measured."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

from camerawright.bench import codec
from camerawright.bench.catalogue import find_test
from camerawright.bench.comparison import Comparison
from camerawright.bench.record import Figure
from camerawright.bench.shutter.record import Firing, ShutterRecord, Speed, StoppedDown
from camerawright.handbook.exposure import marked_speed
from camerawright.job.now import JobNow, job_now
from camerawright.journal.entries import ENTRY
from camerawright.quantity import BudgetLine, Quantity, Word
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Camera, Job, Owner, Visit

MORNING = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
LENS = "coupled rangefinder, f/4"
LOST_S = 1e-3
"""Wide open the invented shutter loses this much of its time to opening and closing."""


def take_in(workshop: Workshop, variant: str = LENS, f_numbers: tuple[float, ...] = ()) -> Job:
    """A camera of a variant."""
    camera = Camera(maker="Orlmann", model="Falter 6x6", variant=variant, serial="48213", f_numbers=f_numbers)
    visit = Visit(taken_in=date(2026, 3, 2), owners_words="Slow speeds stick.", wanted="to be used")
    return workshop.take_in(Owner(name="Ines Marrow"), camera, visit)


def write(workshop: Workshop, job: Job, *entries: dict[str, Any]) -> JobNow:
    """Entries a minute apart, past the rules; where the job stands then."""
    n = len(workshop.journal(job.id))
    workshop.append_all(
        job.id,
        [ENTRY.validate_python({"at": MORNING + timedelta(minutes=n + i), **entry}) for i, entry in enumerate(entries)],
    )
    return job_now(workshop, job.id)


def time(value_s: float, u_s: float, dof: float = float("inf")) -> Quantity:
    return Quantity(value_s, "s", (BudgetLine("timing", u_s, dof),))


def stopped(open_s: float) -> tuple[StoppedDown, ...]:
    """A round opening of which `LOST_S` is lost wide open: t = open + lost (1 - r), r = 2^(-stops/2)."""
    return tuple(StoppedDown(float(n), time(open_s + LOST_S * (1 - 2 ** (-n / 2)), 1e-5)) for n in (1, 2, 3, 4))


def speed(
    stops: float,
    marked: str,
    expanded_u: float = 0.04,
    *,
    dof: float = float("inf"),
    verdict: Word | None = "within",
    limit: float | None = 0.33,
    predicts: bool = True,
    source: str = "common practice",
) -> Speed:
    """A speed that is so far off its mark; `expanded_u` is half its 95 % interval. [stops]"""
    at = marked_speed(marked)
    effective = time(at.target_s * 2**stops, 1e-5)
    normal = Quantity(stops, "stop", (BudgetLine("repeatability", 1.0, dof, "A"),))
    u = expanded_u / normal.expanded_u
    compared = Comparison(
        marked=at.text, target_s=at.target_s, series=at.series, profile="user",
        lower_ev=-limit if limit else None, upper_ev=limit, source=source,
        firings=(), mean=replace(normal, budget=(replace(normal.budget[0], u=u),)), mean_s=effective.value,
        repeatability_stops=None, verdict=verdict, probability_within=None, more_firings=None,
    )  # fmt: skip
    return Speed(
        i_firings=(), likely=None, effective=effective, repeatability_stops=None, first=None,
        drift=None, stopped_down=stopped(effective.value) if predicts else (), compared=compared,
    )  # fmt: skip


def firing(at_s: float, *flags: str) -> Firing:
    """One firing of 10 ms."""
    ten = time(1e-2, 1e-5)
    return Firing(
        at_s=at_s, total=ten, half_peak=ten, effective=ten, efficiency=0.9, opening=ten, closing=ten, level=0.5,
        opens_to=1.0, u_opens_to=0.0, snr_db=48.0, has_plateau=True, level_from="its own plateau", slope=0.0,
        u_slope=0.0, bounce=0.0, dip=0.0, bounce_seen_from=0.05, tail_s=0.0, stopped_down=(), flags=flags,
    )  # fmt: skip


def reading(
    phase: str,
    *speeds: Speed,
    test: str = "shutter",
    figures: tuple[Figure, ...] = (),
    firings: tuple[Firing, ...] = (),
    flags: tuple[str, ...] = (),
    recording: str = "",
    words: str = "",
    method: str = "",
    result: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """A reading of one speed, of several in one recording, or of none; `result` is that of another kind of test."""
    marks = ", ".join(one.compared.marked for one in speeds if one.compared)
    # One of an earlier method is told by its figures and its table alone: its firings need not make its speeds.
    method = method or ("of long ago" if firings else find_test("shutter").method)
    record = ShutterRecord(
        test=test, method=method, figures=figures, flags=flags, firings=firings, speeds=speeds,
        compared=speeds[0].compared if len(speeds) == 1 else None,
    )  # fmt: skip
    return {
        "kind": "measured",
        "test": test,
        "phase": phase,
        "method": method,
        "setup": {"marked": marks or None, "words": words or None},
        "result": result or codec.written(record),
        "recording": (recording or f"{abs(hash((phase, marks, test, method))):x}").ljust(64, "0")[:64],
    }
