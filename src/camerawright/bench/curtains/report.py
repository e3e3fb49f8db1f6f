"""A result as JSON for scripts, storage and plots."""

from camerawright.bench.comparison_record import budget_as_json, comparison_as_json
from camerawright.bench.contract import Json, refused_record
from camerawright.bench.curtains.groups import Compared, Speed
from camerawright.bench.curtains.measure import METHOD, CurtainResult
from camerawright.bench.curtains.results import AtSensor, Curtain, Firing
from camerawright.quantity import Quantity, Verdict, coverage_factor
from camerawright.trouble import NotMeasurable


def as_json(
    result: CurtainResult, speeds: tuple[Speed, ...], compared: Compared | None, advice: tuple[str, ...]
) -> Json:
    """The whole result; `compared` is null without a marked speed."""
    gate = result.gate
    return {
        "test": "curtains",
        "method": METHOD,
        "firings": [_firing(firing) for firing in result.firings],
        "skipped": [skipped.as_json for skipped in result.skipped],
        "flags": [*result.flags, *(compared.flags if compared else ())],
        "refused": None,
        "speeds": [_speed(speed) for speed in speeds],
        "advice": list(advice),
        "input": {
            "rate_hz": result.rate_hz,
            "sensor": result.sensor.name,
            "gate_mm": gate.width_mm,
            "at_mm": list(gate.at_mm),
            "diameter_mm": list(gate.diameter_mm),
            "u_at_mm": gate.u_at_mm,
            "is_turned": result.is_turned,
            "channels": [
                {
                    "is_inverted": sign < 0,
                    "corners_hz": list(coupling.corners_hz),
                    "undo_a_per_s": coupling.a,
                    "undo_b_per_s2": coupling.b,
                    "undo_e_per_s2": coupling.e,
                }
                for sign, coupling in zip(result.signs, result.couplings, strict=True)
            ],
        },
        "compared": _compared(compared) if compared else None,
    }


def refused_as_json(why: NotMeasurable) -> Json:
    """The record of a refusal: same keys, no firings."""
    return refused_record("curtains", METHOD, why, speeds=[], advice=[])


def _named(name: str, unit: str, quantity: Quantity | None) -> Json:
    """A value and its u under their names; both null where there is none."""
    return {
        f"{name}_{unit}": quantity.value if quantity else None,
        f"u_{name}_{unit}": quantity.u if quantity else None,
    }


def _firing(firing: Firing) -> Json:
    """One firing: what every shutter test has first."""
    return {
        "at_s": firing.at_s,
        **_named("effective", "s", firing.effective),
        "k95_effective": coverage_factor(firing.effective.dof),
        "flags": list(firing.flags),
        "sensors": [_sensor(one) for one in firing.sensors],
        "first": _curtain(firing.first),
        "second": _curtain(firing.second),
        **_named("later", "s", firing.later),
        **_named("uneven", "stops", firing.uneven),
        **_named("uneven_gate", "stops", firing.uneven_gate),
        "fully_open_s": firing.fully_open_s,
        **_named("capped", "mm", firing.capped_mm),
        "dark_mm": list(firing.dark_mm),
        "along": {
            "at_mm": [float(x) for x in firing.along_mm],
            "exposure_s": [one.value for one in firing.along],
            "u_exposure_s": [one.u for one in firing.along],
        },
        "budget_effective": budget_as_json(firing.effective),
        "budget_later": budget_as_json(firing.later),
    }


def _sensor(one: AtSensor) -> Json:
    """A firing at one sensor."""
    return {
        "channel": one.i_channel + 1,
        "at_mm": one.at_mm,
        **_named("exposure", "s", one.exposure),
        "k95_exposure": coverage_factor(one.exposure.dof),
        **_named("slit", "mm", one.slit),
        "first_s": one.first_s,
        "second_s": one.second_s,
        "level_fs": one.level,
        "own_level": one.own_level,
        "snr_db": one.snr_db,
        "blur_mm": one.blur_mm,
        "again_part": one.again.height if one.again else None,
        "again_light_s": one.again.light_s if one.again else None,
        "u_again_light_s": one.again.u_light_s if one.again else None,
        "again_after_s": one.again.after_s if one.again else None,
        "least_again_part": one.least_again,
        "dip_part": one.dip,
        "budget_exposure": budget_as_json(one.exposure),
    }


def _curtain(curtain: Curtain) -> Json:
    """One curtain; the motion is what the plot draws."""
    near, far = curtain.speeds
    return {
        **_named("between", "s", curtain.between),
        **_named("across", "s", curtain.across),
        **_named("speed_near", "mm_s", near),
        **_named("speed_far", "mm_s", far),
        "motion": {
            "t0_s": curtain.motion.t0_s,
            "x0_mm": curtain.motion.x0_mm,
            "v_mm_s": curtain.motion.v_mm_s,
            "a_mm_s2": curtain.motion.a_mm_s2,
        },
        "u_passing_s": list(curtain.u_passing_s),
        "budget_across": budget_as_json(curtain.across),
    }


def _speed(speed: Speed) -> Json:
    """Firings at one setting together."""
    return {
        "firings": [i + 1 for i in speed.i_firings],
        "points": [
            {"at_mm": x, **_named("exposure", "s", point)} for x, point in zip(speed.at_mm, speed.points, strict=True)
        ],
        **_named("effective", "s", speed.effective),
        **_named("uneven", "stops", speed.uneven),
        **_named("uneven_gate", "stops", speed.uneven_gate),
        **_named("first", "s", speed.first),
        **_named("second", "s", speed.second),
        **_named("later", "s", speed.later),
        "U95_later_s": speed.later.expanded_u,
    }


def _compared(compared: Compared) -> Json:
    """The comparison: of the mean as every test has it, with the verdict of the whole gate, then point by point."""
    return {
        **comparison_as_json(compared.mean),
        **_verdict(compared.verdict),
        "i_firings": list(compared.speed.i_firings),
        "mean_verdict": compared.mean.verdict.word if compared.mean.verdict else None,
        "points": [
            {
                "at_mm": x,
                "stops": point.mean_ev.value,
                "u_stops": point.mean_ev.u,
                "U95_stops": point.mean_ev.expanded_u,
                **_verdict(point.verdict),
            }
            for x, point in zip(compared.speed.at_mm, compared.points, strict=True)
        ],
        "evenness": {
            **_named("uneven", "stops", compared.speed.uneven_gate or compared.speed.uneven),
            "limit_stops": compared.limit_ev,
            "source": "common practice: half the width of the tolerance",
            **_verdict(compared.evenness),
        },
    }


def _verdict(verdict: Verdict | None) -> Json:
    """The word and its probability; both null without limits."""
    return {
        "verdict": verdict.word if verdict else None,
        "probability_within": verdict.probability if verdict else None,
    }
