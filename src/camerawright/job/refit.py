"""The way back as data: what `camerawright refit --json` prints and the refit sheet and pages show."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pydantic import JsonValue

from camerawright.job.now import JobNow
from camerawright.journal.entries import Fastener, HoldPoint, Lead, Loose, Shim, Turned, part_key
from camerawright.journal.fields import turns_said
from camerawright.journal.order import Constraint
from camerawright.journal.slack import ALL
from camerawright.journal.springs import springs_owed
from camerawright.journal.state import Part, State
from camerawright.refit.way_back import ON_THE_CAMERA, Check
from camerawright.wording.moments import moment
from camerawright.wording.numbers import counted


@dataclass(frozen=True, kw_only=True)
class RefitStep:
    """Everything to know when one part goes back."""

    n: int
    part: Part
    after: tuple[Constraint, ...]
    hazards: tuple[str, ...]
    marks: tuple[str, ...]
    reminders: tuple[str, ...]  # reminders and findings with something to be done
    hold_points: tuple[str, ...]
    assembly: str = ""  # the heading of its sub-assembly: "shutter, on the bench"
    begins: str = ""  # the same at the first of several steps in a row
    built: str = ""  # where what is in it was built in: "on the bench, steps 1 to 7"
    springs: tuple[str, ...] = ()  # the turns that springs which go with it still owe
    loosened: tuple[str, ...] = ()  # screws that came off with it and are to be tightened once it is back

    @property
    def fasteners(self) -> tuple[Fastener, ...]:
        """As they came out."""
        return self.part.removed.fasteners if self.part.removed else ()

    @property
    def leads(self) -> tuple[Lead, ...]:
        """As they were connected."""
        return self.part.removed.leads if self.part.removed else ()

    @property
    def sits(self) -> tuple[str, ...]:
        """How it and what belongs to it sits; of the same thing said twice, what was said last."""
        last = {(part_key(each.what or ""), each.aspect, each.aspect or each.how): each for each in self.part.sits}
        return tuple(each.back for each in last.values())

    @property
    def locked_with(self) -> str:
        """The adhesive or lock-lacquer that was on it."""
        return (self.part.removed.locked_with or "") if self.part.removed else ""

    @property
    def on_its_screws(self) -> tuple[str, ...]:
        """What was found on single fasteners."""
        return tuple(found.what_is_found for found in self.part.findings if found.fastener)

    @property
    def loose(self) -> tuple[Loose, ...]:
        """Springs, balls and other small parts that came out with it."""
        return self.part.removed.loose if self.part.removed else ()

    @property
    def shims(self) -> tuple[Shim, ...]:
        """As they lay."""
        return self.part.removed.shims if self.part.removed else ()


def refit_steps(here: JobNow) -> tuple[RefitStep, ...]:
    """The steps that can go on, in order, sub-assembly by sub-assembly."""
    steps = []
    numbers: dict[str, list[int]] = {}  # of the steps that build each part on the bench
    before, seen = "", set()
    for n, (step, assembly) in enumerate(zip(here.way.steps, _assemblies(here), strict=True), start=1):
        numbers.setdefault(here.way.home.get(step.part.key, ""), []).append(n)
        inside = numbers.get(step.part.key)
        built = f"on the bench, {_numbers(inside)}" if inside else ""
        begins = "" if assembly == before else f"{assembly} (continued)" if assembly in seen else assembly
        before = assembly
        seen.add(assembly)
        made = _step(here, n, step.part, step.after)
        steps.append(replace(made, assembly=assembly, begins=begins, built=built))
    return tuple(steps)


ON_LAST = "on last"
"""The heading of the parts that go on last."""


def _assemblies(here: JobNow) -> list[str]:
    """The heading of each step; nothing at all where nobody named a sub-assembly."""
    found = []
    for step in here.way.steps:
        home, removed = here.way.home.get(step.part.key), step.part.removed
        if home:
            found.append(f"{here.state.part(home).name}, on the bench")
        elif step.part.key in here.facts.last:
            found.append(ON_LAST)
        else:
            found.append((removed.assembly if removed else None) or ON_THE_CAMERA)
    return [""] * len(found) if set(found) <= {ON_THE_CAMERA, ON_LAST} else found


def _numbers(steps: Sequence[int]) -> str:
    """`step 3`, `steps 1 to 7`, `steps 1, 4 and 9`."""
    if len(steps) < 2:
        return "".join(f"step {n}" for n in steps)
    if steps[-1] - steps[0] == len(steps) - 1:
        return f"steps {steps[0]} to {steps[-1]}"
    return f"steps {', '.join(map(str, steps[:-1]))} and {steps[-1]}"


def step_of(here: JobNow, name: str) -> RefitStep | None:
    """The step that refits a part, if it can go on."""
    return next((step for step in refit_steps(here) if step.part.key == part_key(name)), None)


def needs_words(part: Part, *moves: str) -> tuple[str, ...]:
    """The states without which a part may not move in one of these ways, each with its reason."""
    return tuple(
        f"{', '.join(f'{what} {how}' for what, how in need.settings.items())}: {need.reason}"
        for need in part.needs
        if need.moves in {"both", *moves}
    )


def failure_words(check: Check) -> str:
    """What comes off again if a check fails where it stands, and at the end: "1 part has to come off again"."""

    def parts(n: int) -> str:
        return "nothing" if not n else counted(n, "part")

    now = f"{parts(check.n_off_now)} {'have' if check.n_off_now > 1 else 'has'} to come off again"
    return now if check.n_off_last == check.n_off_now else f"{now}; at the end, {parts(check.n_off_last)} would"


def _step(here: JobNow, n: int, part: Part, after: tuple[Constraint, ...]) -> RefitStep:
    owed = here.state.promises_of(part.name)
    return RefitStep(
        n=n,
        part=part,
        after=after,
        hazards=here.hazards(part.name),
        marks=tuple(mark.mark for mark in part.marks_now or part.marks),
        reminders=tuple(promise.asks for promise in owed if not isinstance(promise, HoldPoint)),
        hold_points=tuple(
            check.hold.check for check in here.way.checks if check.before is not None and check.before.key == part.key
        ),
        springs=springs_words(here, part.name),
        loosened=loosened_words(here.state, part),
    )


def loosened_words(state: State, part: Part) -> tuple[str, ...]:
    """The screws in a part that are not tight: "3 × grub M1.4: loose since 2031-05-04 09:30, tighten"."""
    turned = [entry for entry in state.entries if isinstance(entry, Turned) and part_key(entry.part) == part.key]
    loosened = [entry for entry in turned if entry.act != "tightened"]
    since = f" since {moment(loosened[-1].moment)}" if loosened else ""
    return tuple(
        f"{'its screws' if joint == ALL else f'{count} × {joint.what}'}: loose{since}, tighten"
        for joint, count in part.slack.items()
    )


def springs_words(here: JobNow, name: str) -> tuple[str, ...]:
    """The turns to put back on springs that go with a part: "return spring: 0.75 turns clockwise"."""
    key = part_key(name)
    return tuple(
        f"{spring.spring}: {'let back ' if spring.is_too_far else ''}{turns_said(-spring.turns)}"
        for spring in springs_owed(here.state)
        if key in {part_key(spring.part), part_key(spring.spring)}
    )


def refit_json(here: JobNow) -> dict[str, JsonValue]:
    """The way back as JSON: every part that is off stands in exactly one of `steps` and `waiting`."""
    steps: list[JsonValue] = [
        {
            "n": step.n,
            "part": step.part.name,
            "sub_assembly": step.assembly or None,
            "after": _after(step.after),
            "fasteners": [fastener.model_dump(mode="json", exclude_none=True) for fastener in step.fasteners],
            "shims": [shim.model_dump(mode="json", exclude_none=True) for shim in step.shims],
            "loose": [loose.model_dump(mode="json", exclude_none=True) for loose in step.loose],
            "leads": [lead.model_dump(mode="json", exclude_none=True) for lead in step.leads],
            "sits": list(step.sits),
            "springs": list(step.springs),
            "loosened": list(step.loosened),
            "locked_with": step.locked_with or None,
            "on_its_screws": list(step.on_its_screws),
            "marks": list(step.marks),
            "cautions": list(step.hazards),
            "reminders": list(step.reminders),
            "hold_points": list(step.hold_points),
            "cell": step.part.removed.cell if step.part.removed else None,
        }
        for step in refit_steps(here)
    ]
    waiting: list[JsonValue] = [
        {"part": item.part.name, "reason": item.reason, "after": _after(item.after)} for item in here.way.waiting
    ]
    owed: list[JsonValue] = [
        {"kind": owed.kind, "part": owed.part, "what": owed.what, "entry": owed.entry} for owed in here.owed
    ]
    return {
        "job": here.job.id,
        "steps": steps,
        "waiting": waiting,
        "owed": owed,
        "checks": [
            {
                "check": check.hold.check,
                "entry": check.hold.id,
                "before": check.before.name if check.before else None,
                "waiting": check.is_waiting,
                "failure_costs_parts": check.n_off_now,
                "failure_at_the_end_costs_parts": check.n_off_last,
            }
            for check in here.way.checks
        ],
        "order_is_proven_best": here.way.is_proven,
        "contradiction": here.known.clash,
    }


def _after(after: tuple[Constraint, ...]) -> list[JsonValue]:
    return [{"part": bond.then, "reason": bond.reason, "certain": bond.certain} for bond in after]
