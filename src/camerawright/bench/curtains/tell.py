"""A curtains record in words: lines for the terminal, the table of its firings, what each picture shows."""

from collections.abc import Iterator

from camerawright.bench import contract
from camerawright.bench.comparison_words import comparison_lines, repeatability_remark
from camerawright.bench.contract import Fired, Table, refused_lines, verdict_cells
from camerawright.bench.curtains.diameter import interval_mm
from camerawright.bench.curtains.record import AtSensor, CurtainsRecord, Evenness, Firing, GateComparison, Input
from camerawright.bench.curtains.speeds import K_SHOWN
from camerawright.handbook.exposure import name_of
from camerawright.quantity import Quantity
from camerawright.wording import numbers
from camerawright.wording.verdicts import bar


def lines(record: CurtainsRecord) -> list[str]:
    """The summary for the terminal."""
    if record.refused or record.input is None:
        return refused_lines(record)
    compared = record.compared
    out = [_header(record, record.input), ""]
    n_compared = len(compared.firings) if compared else 0
    for n, firing in enumerate(record.firings, start=1):
        if compared and n == n_compared + 1:
            out.extend(["", f"Not compared with {compared.marked}: at other speeds"])
        out.extend(_firing_lines(n, firing))
    out.extend(f"      - at {numbers.fixed(s.at_s, 2)} s: not measured, {s.reason}" for s in record.skipped)
    if compared:
        n_lines = 2 + (compared.repeatability_stops is not None)
        out.extend(["", *comparison_lines(compared)[:n_lines], *_point_lines(compared)])
    if record.advice:
        out.extend(["", *record.advice])
    out.extend(f"! {flag}" for flag in record.flags)
    return out


def table(record: CurtainsRecord) -> Table:
    """Every firing in a row."""
    compared = record.compared
    errors = dict(zip(compared.i_firings, compared.firings, strict=True)) if compared else {}
    heads = (
        "at [s]", "effective [ms]", "exposure by place [ms]", "first curtain [ms]", "second curtain [ms]",
        "uneven [stops]", *(("off by [stops]", "verdict") if errors else ()),
    )  # fmt: skip
    rows = tuple(
        (
            numbers.fixed(one.at_s, 2),
            _ms(one.effective.value, one.effective.expanded_u),
            "; ".join(f"{_mm(at)} {_ms(at.exposure.value, at.exposure.expanded_u)}" for at in one.sensors),
            *(_ms(curtain.across.value, K_SHOWN * curtain.across.u) for _, curtain in one.curtains),
            numbers.with_interval(one.uneven.value, K_SHOWN * one.uneven.u),
            *(verdict_cells(errors.get(i)) if errors else ()),
        )
        for i, one in enumerate(record.firings)
    )
    return Table(
        heads=heads,
        rows=rows,
        flags=tuple(one.flags for one in record.firings),
        notes=tuple(f"at {numbers.fixed(one.at_s, 2)} s: {one.reason}" for one in record.skipped),
    )


def dial(record: CurtainsRecord) -> tuple[contract.Speed, ...]:
    """The setting that was compared; without a mark every setting, fastest first."""
    compared, speed = record.compared, record.compared_speed
    if compared is None:
        settings = record.speeds if record.figures else ()  # where a mark was given and part of the gate is dark: none
        return tuple(contract.Speed(i_firings=one.i_firings, effective=one.effective) for one in settings)
    return (
        contract.Speed(
            marked=compared.marked,
            i_firings=compared.i_firings,
            effective=speed.effective if speed else None,
            compared=compared,
            remarks=tuple(_remarks(compared)),
            points=tuple(
                contract.Point(at_mm=one.at_mm, error=one.error, verdict=one.verdict) for one in compared.points
            ),
        ),
    )


def _remarks(compared: GateComparison) -> Iterator[str]:
    """What the firings say together."""
    if compared.repeatability_stops is not None:
        yield repeatability_remark(compared.repeatability_stops)
    even = compared.evenness
    word = f", {even.verdict}" if even.verdict else ""
    limit = f" of {numbers.fixed(even.limit_stops, 2)}" if even.limit_stops is not None else ""
    yield f"Uneven over the gate by {numbers.fixed(even.uneven.value, 2)} stop{word}{limit} ({even.source})."


def fired(record: CurtainsRecord) -> tuple[Fired, ...]:
    """Its firings, as they are told while they are recorded."""
    compared = record.compared
    errors = dict(zip(compared.i_firings, compared.firings, strict=True)) if compared else {}
    seen = (
        Fired(at_s=one.at_s, stop_s=one.end_s, time=one.effective, flags=one.flags, compared=errors.get(i))
        for i, one in enumerate(record.firings)
    )
    return tuple(sorted(seen, key=lambda one: one.at_s))


def words(record: CurtainsRecord) -> dict[str, str]:
    """What each picture shows, by the pictures' names."""
    if not record.firings:
        return {}
    i = shown_firing(record)
    firing, compared = record.firings[i], record.compared
    curtains = "; ".join(
        f"{name} curtain {numbers.milliseconds(curtain.across.value, K_SHOWN * curtain.across.u)} across the gate"
        for name, curtain in firing.curtains
    )
    places = ", ".join(f"{_mm(one)} {_exposure(one)}" for one in firing.sensors)
    passed = ", ".join(
        f"{_mm(one)} from {numbers.fixed(1e3 * (one.first_s - firing.begin_s), 2)} to"
        f" {numbers.fixed(1e3 * (one.second_s - firing.begin_s), 2)} ms"
        for one in firing.sensors
    )
    capped = f"; the slit closes at {numbers.fixed(firing.capped.value, 0)} mm" if firing.capped else ""
    out = {
        "curtains": f"Firing {i + 1}, place in the gate against time: {curtains}; exposure at {places}{capped}.",
        "waveform": f"Firing {i + 1}, light at each sensor from the first to the second curtain: {passed}.",
    }
    if compared:
        points = ", ".join(
            f"{numbers.short(one.at_mm)} mm {numbers.stops(one.error.value, one.error.expanded_u)} stops"
            for one in compared.points
        )
        out["speed card"] = f"Off {compared.marked} by place: {points}; {compared.verdict or 'no limits'}."
    return out


def shown_firing(record: CurtainsRecord) -> int:
    """The fastest firing, of those compared where there is a mark."""
    shown = record.compared.i_firings if record.compared else range(len(record.firings))
    return min(shown, key=lambda i: record.firings[i].effective.value)


def _header(record: CurtainsRecord, made: Input) -> str:
    """One line on what was heard."""
    places = ", ".join(numbers.short(x) for x in sorted(made.at_mm))
    return (
        f"{numbers.counted(len(record.firings), 'firing')}; sensors at {places} mm of a gate of"
        f" {numbers.short(made.gate_mm)} mm{_by_edges(made)}; the input is AC coupled, and that is undone; ± is the"
        " 95 % interval"
    )


def _by_edges(made: Input) -> str:
    """How wide the sensors are by their edges, channel by channel."""
    seen = zip(made.diameter_by_edges_mm, made.u_diameter_by_edges_mm, strict=True)
    told = [interval_mm(mm, K_SHOWN * u) for mm, u in seen if mm is not None and u is not None]
    return f", by their edges {', '.join(told)} mm wide" if told else ""


def _firing_lines(n: int, firing: Firing) -> list[str]:
    """One firing: exposures, curtains, evenness."""
    points = "  ".join(
        f"{_mm(one)} {_exposure(one)} ({name_of(one.exposure.value)}{_slit(one.slit)})" for one in firing.sensors
    )
    curtains = "; ".join(
        f"{name} curtain {numbers.milliseconds(one.between.value, K_SHOWN * one.between.u)} between the outer"
        f" sensors, gate {numbers.milliseconds(one.across.value, K_SHOWN * one.across.u)}"
        for name, one in firing.curtains
    )
    out = [f"{n:>3} {numbers.fixed(firing.at_s, 2):>6} s  {points}", f"      {curtains}", _evenness_line(firing)]
    if firing.capped:
        out.append(f"      ! capped: the slit is closed from about {numbers.fixed(firing.capped.value, 0)} mm")
    return [*out, *(f"      ! {flag}" for flag in firing.flags)]


def _evenness_line(firing: Firing) -> str:
    """How uneven one firing is, and how long the whole gate was open, if it was."""
    text = f"      uneven by {_uneven(firing.uneven)} stop at the sensors"
    if firing.uneven_gate is not None:
        text += f", {_uneven(firing.uneven_gate)} over the gate (its edges extrapolated)"
    if firing.fully_open_s > 0:
        text += f"; gate fully open for {numbers.fixed(1e3 * firing.fully_open_s, 1)} ms"
    return text


def _point_lines(compared: GateComparison) -> list[str]:
    """Every point of the gate against the mark, and the verdict of the whole."""
    lower, upper = compared.lower_ev, compared.upper_ev
    if compared.verdict is None or lower is None or upper is None:
        return [f"Profile {compared.profile} has no limits for this speed"]
    points = "; ".join(
        f"{numbers.short(one.at_mm)} mm {numbers.stops(one.error.value, one.error.expanded_u)} {one.verdict}"
        for one in compared.points
    )
    return [
        f"Stops from {compared.marked} by place: {points}",
        *(
            f"  {numbers.short(one.at_mm):>4} mm"
            f" {bar(one.error.value, one.error.expanded_u, lower, upper, one.verdict)}"
            for one in compared.points
        ),
        f"Uneven by {_against_limit(compared.evenness)} ({compared.evenness.source})",
        f"{compared.verdict.upper()} {numbers.signed(lower)} to {numbers.signed(upper)} stops over the gate"
        f" (profile {compared.profile}, {compared.source})",
    ]


def _against_limit(even: Evenness) -> str:
    """How uneven the gate is, with its verdict and limit."""
    return f"{_uneven(even.uneven)} stop, {even.verdict} {numbers.fixed(even.limit_stops or 0.0, 2)}"


def _uneven(stops: Quantity) -> str:
    """A ratio of exposures in stops with its interval."""
    return f"{numbers.fixed(stops.value, 2)} ± {numbers.never_less(K_SHOWN * stops.u)}"


def _slit(slit: Quantity | None) -> str:
    """The slit, where it is one."""
    if slit is None:
        return ""
    return f", slit {numbers.fixed(slit.value, 1)} ± {numbers.fixed(K_SHOWN * slit.u, 1)} mm"


def _mm(one: AtSensor) -> str:
    return f"{numbers.short(one.at_mm)} mm"


def _exposure(one: AtSensor) -> str:
    """The exposure at a sensor with its 95 % interval."""
    return numbers.milliseconds(one.exposure.value, one.exposure.expanded_u)


def _ms(time_s: float, expanded_s: float) -> str:
    """A time in a column of milliseconds."""
    return numbers.milliseconds(time_s, expanded_s).removesuffix(" ms")
