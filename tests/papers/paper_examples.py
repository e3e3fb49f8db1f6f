"""Invented papers for the tests: an invented workshop, makers and owners."""

from dataclasses import replace
from datetime import date
from io import BytesIO

from PIL import Image, ImageDraw

from camerawright.papers.content import (
    After,
    Bill,
    Certificate,
    FindingShown,
    Picture,
    Readings,
    RecordingShown,
    RefitSheet,
    ReplacedPart,
    StepShown,
    Tax,
    WaitingShown,
    Workshop,
)
from camerawright.readings.shown import Reading, ReadingRow, ToldReading, ToldRow
from camerawright.workshop.bill import BillLine
from camerawright.workshop.rows import Camera

WORKSHOP = Workshop(name="Lindqvale Camera Bench", address="4 Tannery Steps, Lindqvale\nbench@lindqvale.example")
CAMERA = Camera(maker="Orlmann", model="Falter 6x6", variant="coupled rangefinder, shutter to 1/500", serial="408 113")
DAY = date(2025, 3, 10)

SPEEDS = ("1", "1/2", "1/5", "1/10", "1/25", "1/50", "1/100", "1/250", "1/500")


def reading(i: int, *, off: int, verdict: str) -> Reading:
    """A reading whose every figure differs from row to row, so that a lost one is missed."""
    return Reading(
        value=f"{1000 + 37 * i + off}.{i} ms",
        error=f"+0.{10 + i + off % 50:02d}",
        expanded_u=f"0.0{1 + i % 9}",
        n=5 + i % 4,
        verdict=verdict,  # type: ignore[arg-type]
    )


def readings(n_rows: int, *, plot: str | None = None) -> Readings:
    """A table of `n_rows` rows with all three verdicts and one reading missing."""
    verdicts = ("outside", "undecided", "within")
    rows = tuple(
        ReadingRow(
            marked=SPEEDS[i % len(SPEEDS)] + " s",
            as_found=None if i == 4 else reading(i, off=300, verdict=verdicts[i % 3]),
            as_left=reading(i, off=0, verdict="within" if i != 8 else "undecided"),
        )
        for i in range(n_rows)
    )
    return Readings(
        title="Shutter speeds",
        rows=rows,
        method="effective exposure time from the light curve behind the shutter, light sensor 1",
        profile="user, leaf shutter: ± 0.33 stop to 1/100, ± 0.5 stop above",
        profile_source="common practice",
        decision_rule="within or outside only where the whole interval error ± U is; else undecided.",
        coverage_factor="2.0 to 2.3",
        setup="photodiode at the film gate, lamp 0.3 m before the lens, iris full open, line-in at 48 kHz",
        temperature="20.5 °C",
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


def told_readings(*, marked: str = "1/60") -> Readings:
    """Figures that are no error against a mark: one judged, one not, one read only once."""
    return Readings(
        title="Flash contact",
        rows=(),
        error_unit="",
        method="sync 1",
        decision_rule="within or outside where that is so with 95 % probability",
        setup="bridged once by a wire",
        told=(
            ToldRow(
                marked=marked,
                what="class X, from full open",
                as_found=ToldReading(read="−2.31 ± 0.05 ms", n=6, verdict="outside"),
                as_left=ToldReading(read="+0.42 ± 0.04 ms", n=7, verdict="within"),
            ),
            ToldRow(marked=marked, what="bounces", as_left=ToldReading(read="2, 0.31 ms the longest")),
        ),
    )


def certificate(n_rows: int = 9, *, plot: str | None = None) -> Certificate:
    """A whole certificate."""
    return Certificate(
        workshop=WORKSHOP,
        number="2025-014",
        date=DAY,
        camera=CAMERA,
        owner="Ines Marrow",
        owners_words="It sat in my aunt's wardrobe for years. Slow speeds hang, and the bellows smell of cellar.",
        wanted="to be used, twice a year, in winter too",
        readings=(readings(n_rows, plot=plot),),
        findings=(
            FindingShown(
                part="slow-speed train", defect="old oil, gone hard", done="cleaned, lubricated at the pivots"
            ),
            FindingShown(part="bellows, third fold, lower left corner", defect="pinhole", done="patched from inside"),
            FindingShown(part="name ring", defect="slot marred by earlier work", done=""),
        ),
        replaced=(
            ReplacedPart(part="front plate screw", origin="made"),
            ReplacedPart(part="light seal, back", origin="new"),
        ),
        remarks=(
            "1/500: the spread between firings is wider than the reading's uncertainty.",
            "1/25 as found: the shutter did not close in three of five firings.",
        ),
        next_service="In four to five years, or when the first firing after a rest drags.",
        recordings=(
            RecordingShown(label="as found, 3 March 2025", sha256="9f2c1ab3" * 8),
            RecordingShown(label="as left, 10 March 2025", sha256="77de01c4" * 8),
        ),
        signed_by="O. Lindqvale",
    )


def bare_certificate() -> Certificate:
    """One with nothing but who and what."""
    return Certificate(
        workshop=Workshop(name="Lindqvale Camera Bench"), number="1", date=DAY, camera=CAMERA, owner="Tobias Fenn"
    )


PARTS = (
    "rear lens cell", "slow-speed train", "speed cam", "front plate", "retaining ring", "focus ring", "accessory shoe",
    "rangefinder cover", "wind knob", "leatherette, front",
)  # fmt: skip


def step(n: int, *, photo: str | None = None) -> StepShown:
    """A step; every third is rich, the others short."""
    part = PARTS[(n - 1) % len(PARTS)]
    if n % 3 != 2:
        return StepShown(n=n, part=part, fasteners=(f"{n} × M1.7 × 3.{n % 10} mm, countersunk",), cell=f"B{n}")
    return StepShown(
        n=n,
        part=part,
        after=(
            After(part="blades", reason="covers them", certain=True),
            After(part="rear lens cell", reason="", certain=False),
        ),
        fasteners=(f"2 × M1.4 × 2.{n % 10} mm, cheese head", "1 × M1.4 × 4.2 mm, LEFT-HAND thread, hole 3"),
        needs=("shutter released: the lug jumps its pins when cocked",),
        shims=("under the upper pivot: 1 × 0.05 mm",),
        loose=("2 × ball 1.5 mm at detent",),
        marks=("scribed line on the pallet arm against the pillar; shutter released",),
        cautions=("A hairpin spring is set free when this is moved: hold the body face up.",),
        reminders=("Hook the return spring on its post before the second screw.",),
        hold_points=("1 s fired ten times without a stall.",),
        cell=f"A{n}",
        photo=photo,
    )


def refit_sheet(n_steps: int = 6, *, photo: str | None = None) -> RefitSheet:
    """A whole refit sheet."""
    return RefitSheet(
        workshop=WORKSHOP,
        job="J7",
        date=DAY,
        camera=CAMERA,
        state="shutter released · focus at infinity · lever home",
        steps=tuple(step(n, photo=photo if n == 2 else None) for n in range(1, n_steps + 1)),
        waiting=(WaitingShown(part="bellows", reason="adhesive cures until 12 March"),),
        owed=("test roll", "rear cell screw, 1 × M1.4 × 2.0 mm"),
        aids=("tape on the blades",),
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
        workshop=WORKSHOP,
        number="B-2025-031",
        date=DAY,
        customer="Oda Kellerhals\n12 Upper Quay\nLindqvale",
        subject="Orlmann Falter 6x6, no. 408 113 (job J7)",
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
        findings=(FindingShown(part="P" * 60, defect="D" * 80, done="E" * 80),),
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
