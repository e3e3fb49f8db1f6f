"""Register of the film plane: wires the parts of the test."""

from dataclasses import replace

import numpy as np

from camerawright.bench.contract import BenchTest, table_with
from camerawright.bench.options import Option, number
from camerawright.bench.record import Figure, Refusal
from camerawright.bench.register import measure, plot, simulate, steps, tell
from camerawright.bench.register.record import Gauge, Limits, RegisterRecord
from camerawright.handbook.tolerances import Profile
from camerawright.recordings.table import Column, Table
from camerawright.trouble import NotMeasurable, NotUnderstood

COLUMNS = (
    Column(name="x_mm", says="to the right of the gate’s centre"),
    Column(name="y_mm", says="above the gate’s centre"),
    Column(name="depth_mm", says="from the lens mount to the plate on the film rails"),
    Column(
        name="u_mm",
        says="standard uncertainty (k = 1) of this reading, if you know it; without step, rails and pressure",
        is_needed=False,
    ),
)

TOLERANCE_MM = 0.02
TOLERANCE_SOURCE = "a third of the depth of focus at f/2 with a blur of 0.03 mm, common practice"
RAILS_MM, PRESSURE_MM = 0.003, 0.002
"""Together the 0.005 mm that a depth micrometer is good for; how they share it is common practice."""
POSITION_MM = 0.5
"""How close to a place in the gate you set the gauge by eye. Common practice."""


def run(recording: Table, marked: str | None = None, profile: Profile | None = None, **options: str) -> RegisterRecord:
    """Fit the plane, and judge the register where a nominal is told."""
    limits = _limits(options)
    gauge = _gauge(options, recording)
    try:
        found = measure.measure(recording.columns, gauge, limits)
    except NotMeasurable as why:
        return RegisterRecord(test=TEST.name, method=measure.METHOD, refused=Refusal.of(why))
    word = found.verdict.word if found.verdict else None
    n = len(found.readings)
    return RegisterRecord(
        test=TEST.name,
        method=measure.METHOD,
        figures=(
            replace(
                Figure.of("register", found.register, n=n, verdict=word),
                allowed=tell.allowed(limits),
                source=limits.source if limits else "",
            ),
            replace(Figure.of("slope_x", found.slope_x, n=n), has_sign=True),
            replace(Figure.of("slope_y", found.slope_y, n=n), has_sign=True),
        ),
        flags=found.flags,
        readings=found.readings,
        n_places=found.n_places,
        register=found.register,
        slope_x=found.slope_x,
        slope_y=found.slope_y,
        covariance=found.covariance,
        gauge=gauge,
        limits=limits,
        verdict=word,
        probability_within=found.verdict.probability if found.verdict else None,
    )


def _limits(options: dict[str, str]) -> Limits | None:
    """What the register should be, where it is told."""
    nominal_mm = number("nominal_mm", options.get("nominal_mm"), *measure.DEPTHS_MM)
    tolerance_mm = number("tolerance_mm", options.get("tolerance_mm"), 0.001, 1.0)
    if nominal_mm is None:
        if tolerance_mm is not None:
            raise NotUnderstood("there is a tolerance and no nominal", "tell the nominal as well", "nominal-mm")
        return None
    if tolerance_mm is None:
        return Limits(nominal_mm=nominal_mm, tolerance_mm=TOLERANCE_MM, source=TOLERANCE_SOURCE)
    return Limits(nominal_mm=nominal_mm, tolerance_mm=tolerance_mm, source="as told")


def _gauge(options: dict[str, str], table: Table) -> Gauge:
    """The gauge as told, else as its readings show it and as is common practice."""
    told_mm = number("resolution_mm", options.get("resolution_mm"), 1e-4, 0.5)
    rails_mm = number("rails_mm", options.get("rails_mm"), 0.0, 0.1)
    pressure_mm = number("pressure_mm", options.get("pressure_mm"), 0.0, 0.1)
    position_mm = number("position_mm", options.get("position_mm"), 0.0, 5.0)
    return Gauge(
        step_mm=steps.step_shown(table.columns["depth_mm"]) if told_mm is None else told_mm,
        is_step_told=told_mm is not None,
        rails_mm=RAILS_MM if rails_mm is None else rails_mm,
        pressure_mm=PRESSURE_MM if pressure_mm is None else pressure_mm,
        position_mm=POSITION_MM if position_mm is None else position_mm,
    )


def example(seed: int) -> Table:
    """Three rounds at five places of a body that stands a few hundredths too long and a little askew."""
    x_mm, y_mm, depth_mm = simulate.readings(simulate.example(seed), np.random.default_rng(seed))
    return Table({"x_mm": x_mm, "y_mm": y_mm, "depth_mm": depth_mm}, "simulated")


TEST: BenchTest[RegisterRecord] = BenchTest(
    name="register",
    title="Register by depth readings",
    method=measure.METHOD,
    setup=(
        "Open the shutter and the back, and lock them so. Clean the lens mount and the inner film rails. Lay a flat"
        " plate of glass or ground steel on the inner rails from behind, and hold it there lightly. Check the depth"
        " gauge on a block of known length. Stand its base square on the mount, and read the depth to the plate at five"
        " places or more, well spread over the gate: near its corners and in the middle. Keep the spindle off blades"
        " and curtains. Read to the nearest line of the gauge, not to the last one passed. Go round three times. After"
        " the last round check the gauge on the block again. Write each reading in a row, with x to the right and y"
        " upward from the centre of the gate, in millimetres."
    ),
    record=RegisterRecord,
    run=run,
    simulate=example,
    plots=plot.figures,
    lines=tell.lines,
    words=tell.words,
    table=tell.table,
    medium=table_with(COLUMNS, "CSV of depth readings: x_mm,y_mm,depth_mm and, if you like, u_mm."),
    options=(
        Option("nominal_mm", "MM", "The register that the maker meant", "no verdict if not told", of_camera=True),
        Option(
            "tolerance_mm",
            "MM",
            "How far the register may be off; within or outside is said where that is 95 % sure",
            f"{TOLERANCE_MM} if not told ({TOLERANCE_SOURCE})",
            of_camera=True,
        ),
        Option("resolution_mm", "MM", "The smallest step of the gauge", "as the readings seem to show it if not told"),
        Option(
            "rails_mm",
            "MM",
            "How far rails and plate may be from even, at each place",
            f"±; {RAILS_MM} if not told (common practice)",
        ),
        Option(
            "pressure_mm",
            "MM",
            "By how much another pressure on the spindle shifts all readings alike",
            f"±; {PRESSURE_MM} if not told (common practice)",
        ),
        Option(
            "position_mm",
            "MM",
            "How far the gauge may stand beside its place",
            f"±; {POSITION_MM} if not told (common practice)",
        ),
    ),
)
