"""Invented papers for the tests: an invented workshop, makers and owners."""

from dataclasses import replace
from datetime import date
from io import BytesIO
from typing import Any

from PIL import Image, ImageDraw

from camerawright.papers.annex import Annex, Budget, Firings, FiringsOf, MeasuredBy
from camerawright.papers.bill import Bill, Tax
from camerawright.papers.certificate import (
    ApertureCell,
    ApertureRow,
    ApertureTable,
    Certificate,
    OtherReadings,
    SpeedReading,
    SpeedRow,
)
from camerawright.papers.paper import Line, Picture
from camerawright.papers.refit_sheet import RefitSheet
from camerawright.papers.refit_steps import Step
from camerawright.papers.work_done import Finding
from camerawright.readings.rows import Reading
from camerawright.readings.side_by_side import FigureRow, FigureText, ReadingRow
from camerawright.workshop.bill import BillLine
from camerawright.workshop.rows import Camera

CAMERA = Camera(
    maker="Orlmann", model="Falter 6x6", variant="coupled rangefinder, shutter to 1/500", serial="408 113",
    f_numbers=(3.5, 5.6, 8.0),
)  # fmt: skip
DAY = date(2025, 3, 10)
HEAD: dict[str, Any] = {
    "workshop": "Lindqvale Camera Bench",
    "address": "4 Tannery Steps, Lindqvale\nbench@lindqvale.example",
    "job": "J7",
    "date": DAY,
    "camera": CAMERA,
}

SPEEDS = ("1", "1/2", "1/5", "1/10", "1/25", "1/50", "1/100", "1/250", "1/500")
VERDICTS: Any = ("outside", "undecided", "within")


def speed_reading(i: int, *, off: int, verdict: Any) -> SpeedReading:
    """A reading whose every figure differs from row to row, so that a lost one is missed."""
    return SpeedReading(gives=f"1/{1000 + 37 * i + off}.{i} s", error=f"+0.{10 + i + off % 50:02d}", verdict=verdict)


def reading(i: int, *, off: int, verdict: Any) -> Reading:
    """The same, with its interval."""
    return Reading(
        value=f"{1000 + 37 * i + off}.{i} ms",
        error=f"+0.{10 + i + off % 50:02d}",
        expanded_u=f"0.0{1 + i % 9}",
        n=5 + i % 4,
        verdict=verdict,
    )


def mark(i: int) -> str:
    return SPEEDS[i % len(SPEEDS)] + " s"


def speed_rows(n_rows: int) -> tuple[SpeedRow, ...]:
    """A table with all three verdicts and one reading missing."""
    return tuple(
        SpeedRow(
            marked=mark(i),
            allowed=f"± 0.3{i % 9}",
            as_found=None if i == 4 else speed_reading(i, off=300, verdict=VERDICTS[i % 3]),
            as_left=speed_reading(i, off=0, verdict="within" if i != 8 else "undecided"),
        )
        for i in range(n_rows)
    )


def aperture_table(n_rows: int) -> ApertureTable:
    """Each speed at three apertures, one of them not told."""
    return ApertureTable(
        apertures=("f/3.5", "f/5.6", "f/8"),
        rows=tuple(
            ApertureRow(
                marked=mark(i),
                phase="as left",
                cells=(
                    ApertureCell(error=f"+0.1{i % 9}", verdict="within"),
                    ApertureCell(error=f"+0.4{i % 9}", verdict="outside"),
                    ApertureCell(error=f"−0.2{i % 9}", verdict="undecided") if i % 4 else ApertureCell(),
                ),
            )
            for i in range(n_rows)
        ),
    )


def measured_by(n_rows: int, *, plot: str | None = None) -> MeasuredBy:
    """How a bench test measured `n_rows` speeds."""
    return MeasuredBy(
        title="Leaf shutter by light",
        facts=(
            Line(label="Limits", words="camera in everyday use (common practice)"),
            Line(label="Method", words="effective exposure time from the light curve behind the shutter"),
            Line(label="Set-up", words="photodiode at the film gate, iris full open, line-in at 48 kHz"),
            Line(label="Uncertainty", words="± is the expanded uncertainty, k = 2.0 to 2.3"),
        ),
        rows=tuple(
            ReadingRow(
                marked=mark(i),
                as_found=None if i == 4 else reading(i, off=300, verdict=VERDICTS[i % 3]),
                as_left=reading(i, off=0, verdict="within" if i != 8 else "undecided"),
            )
            for i in range(n_rows)
        ),
        budget=Budget(
            unit="stops",
            heads=tuple(mark(i) for i in range(min(n_rows, 9))),
            rows=tuple(
                (name, *(f"0.{n}1{i % 9}" for i in range(min(n_rows, 9))))
                for n, name in enumerate(("repeatability", "sensor lag", "combined"))
            ),
        )
        if n_rows
        else None,
        firings=(
            Firings(
                heads=("at [s]", "effective [ms]", "off by [stops]"),
                recordings=tuple(
                    FiringsOf(
                        label=f"{mark(i)}, as left",
                        rows=tuple((f"{n}.{i:02d}", f"{n}{i}.5 ± 0.3", f"+0.{n}{i % 9}") for n in range(5)),
                        notes=(f"at 9.{i:02d} s: clipped",) if i % 3 == 0 else (),
                    )
                    for i in range(n_rows)
                ),
            ),
        ),
        pictures=(
            Picture(
                name=plot,
                words="Error of each marked speed in stops, as found and as left, with the tolerance band.",
                caption="all speeds",
            ),
        )
        if plot
        else (),
    )


TOLD = (
    FigureRow(
        marked="1/60",
        what="class X, from full open",
        as_found=FigureText(read="−2.31 ± 0.05 ms", n=6, verdict="outside"),
        as_left=FigureText(read="+0.42 ± 0.04 ms", n=7, verdict="within"),
    ),
    FigureRow(marked="1/60", what="bounces", as_left=FigureText(read="2, 0.31 ms the longest")),
)
"""Figures that are no error against a marked value: one judged, one not, one read only once."""


def certificate(n_rows: int = 9, *, plot: str | None = None, is_draft: bool = False) -> Certificate:
    """A whole certificate."""
    return Certificate(
        **HEAD,
        number="2025-014",
        is_draft=is_draft,
        owner="Ines Marrow",
        owners_words="It sat in my aunt's wardrobe for years. Slow speeds hang, and the bellows smell of cellar.",
        wanted="to be used, twice a year, in winter too",
        findings=(
            Finding(part="slow-speed train", defect="old oil, gone hard", done="cleaned, lubricated at the pivots"),
            Finding(part="bellows, third fold", defect="pinhole", done="patched from inside"),
            Finding(part="name ring", defect="slot marred by earlier work", done=""),
        ),
        work=(
            Line(label="Taken off and put back", words="focus ring, front cell"),
            Line(label="Cleaned", words="focus ring: soft dry brush"),
            Line(label="Cleaned", words="front cell: lidded jar, naphtha"),
            Line(label="Replaced", words="light seal, back: new"),
        ),
        speeds=speed_rows(n_rows),
        by_aperture=aperture_table(n_rows) if n_rows else None,
        explained="The blades take time to open: 1/500 is within the limits at f/3.5 and outside the limits at f/8.",
        trust="In 19 cases of 20 the true error lies within ± 0.04 stop.",
        annex=Annex(
            tests=(measured_by(n_rows, plot=plot),) if n_rows else (),
            remarks=("1/500, as left: the spread between firings is wider than the reading's uncertainty.",),
            recordings=(
                Line(label="as found, 3 March 2025", words="9f2c1ab39f2c1ab3"),
                Line(label="as left, 10 March 2025", words="77de01c477de01c4"),
            ),
        ),
    )


def told_certificate() -> Certificate:
    """One with figures that are no speeds beside three speeds."""
    whole = certificate(3, plot="speeds")
    contact = MeasuredBy(title="Flash contact", facts=(Line(label="Method", words="sync 1"),), told=TOLD)
    return replace(
        whole,
        others=(OtherReadings(title="Flash contact", rows=TOLD),),
        annex=replace(whole.annex, tests=(*whole.annex.tests, contact)),
    )


def bare_certificate() -> Certificate:
    """One with nothing but who and what."""
    return Certificate(
        **{**HEAD, "address": ""}, number="1", is_draft=False, owner="Tobias Fenn", annex=Annex()
    )  # fmt: skip


PARTS = (
    "rear lens cell", "slow-speed train", "speed cam", "front plate", "retaining ring", "focus ring", "accessory shoe",
    "rangefinder cover", "wind knob", "leatherette, front",
)  # fmt: skip


def step(n: int, *, photo: str | None = None) -> Step:
    """A step; every third is rich, the others short."""
    part = PARTS[(n - 1) % len(PARTS)]
    if n % 3 != 2:
        line = Line(label="fasteners", words=f"{n} × M1.7 × 3.{n % 10} mm, countersunk")
        return Step(n=n, part=part, lines=(line,), cell=f"B{n}")
    return Step(
        n=n,
        part=part,
        cautions=("A hairpin spring is set free when this is moved: hold the body face up.",),
        lines=(
            Line(label="after", words="blades: covers them"),
            Line(label="after", words="rear lens cell (assumed from the order of removal)"),
            Line(label="only when", words="shutter released: the lug jumps its pins when cocked"),
            Line(label="mark", words="scribed line on the pallet arm against the pillar; shutter released"),
            Line(label="shims", words="under the upper pivot: 1 × 0.05 mm"),
            Line(label="fasteners", words=f"2 × M1.4 × 2.{n % 10} mm, cheese head"),
            Line(label="fasteners", words="1 × M1.4 × 4.2 mm, LEFT-HAND thread, hole 3"),
            Line(label="loose", words="2 × ball 1.5 mm at detent"),
            Line(label="check first", words="1 s fired ten times without a stall.", to_tick=True),
            Line(label="remember", words="Hook the return spring on its post before the second screw.", to_tick=True),
        ),
        cell=f"A{n}",
        photos=(Picture(name=photo, words="Photo of it", caption="the mark"),) if photo else (),
    )


def refit_sheet(n_steps: int = 6, *, photo: str | None = None) -> RefitSheet:
    """A whole refit sheet."""
    return RefitSheet(
        **HEAD,
        state="shutter released · focus at infinity · lever home",
        steps=tuple(step(n, photo=photo if n == 2 else None) for n in range(1, n_steps + 1)),
        waiting=(Line(label="bellows", words="adhesive cures until 12 March"),),
        owed=("test roll", "rear cell screw, 1 × M1.4 × 2.0 mm"),
        aids=("tape on the blades",),
    )


def finished_sheet(n_steps: int = 6, *, photo: str | None = None) -> RefitSheet:
    """The sheet of a job whose parts are all back."""
    steps = tuple(replace(step(n, photo=photo if n == 2 else None), cell="") for n in range(1, n_steps + 1))
    return RefitSheet(
        **HEAD,
        came_off=steps,
        went_back=tuple(replace(one, n=n, photos=()) for n, one in enumerate(reversed(steps), start=1)),
        left_out=(Line(label="old light seal", words="perished, kept in the bag"),),
        at_the_end=("first shot after 48 hours: within 0.1 stop",),
    )


def bill(n_lines: int = 3, *, tax: bool = True) -> Bill:
    """A bill of `n_lines` parts and two lines of work."""
    work = "Strip, clean and refit of shutter and focusing mount"
    hours = (
        BillLine(description=work, quantity="4 h 15 min", unit_minor=5200, amount_minor=22100),
        BillLine(
            description="Measuring, as found and as left", quantity="0 h 45 min", unit_minor=5200, amount_minor=3900
        ),
    )
    lines = tuple(
        BillLine(
            description=f"Part {i + 1}: light seal, cut to size",
            quantity=str(i + 1),
            unit_minor=150 + i,
            amount_minor=(i + 1) * (150 + i),
        )
        for i in range(n_lines)
    )
    net = sum(line.amount_minor for line in (*hours, *lines))
    tax_minor = (net * 20 + 50) // 100
    return Bill(
        **HEAD,
        number="B-2025-031",
        customer="Oda Kellerhals\n12 Upper Quay\nLindqvale",
        currency="EUR",
        hours=hours,
        lines=lines,
        tax=Tax(label="VAT 20 %", amount_minor=tax_minor) if tax else None,
        net_minor=net,
        total_minor=net + (tax_minor if tax else 0),
        notes=("To be paid within 14 days.", "Parts that were replaced go back with the camera."),
    )


def long_named(paper: Certificate) -> Certificate:
    """The same certificate with names that no column was made for."""
    name = "Wilhelmina-Anastasia " * 6 + "Q" * 90
    return replace(
        paper,
        owner=name,
        camera=Camera(
            maker="Orlmann und Geschwister Feinmechanische Werkstätten",
            model="Z" * 70,
            serial="7" * 60,
            variant="V" * 50,
        ),
        findings=(Finding(part="P" * 60, defect="D" * 80, done="E" * 80),),
    )


def photo_png(width_px: int = 640, height_px: int = 480) -> bytes:
    """A drawn stand-in for a photo."""
    image = Image.new("RGB", (width_px, height_px), "#d8d8d4")
    draw = ImageDraw.Draw(image)
    draw.ellipse((width_px // 4, height_px // 8, 3 * width_px // 4, 7 * height_px // 8), outline="#222222", width=9)
    draw.line((width_px // 2, height_px // 8, width_px // 2, height_px // 3), fill="#222222", width=9)
    out = BytesIO()
    image.save(out, "PNG")
    return out.getvalue()
