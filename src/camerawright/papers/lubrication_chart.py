"""The lubrication chart: what gets which lubricant and how much of it, and what stays dry."""

from dataclasses import dataclass

from camerawright.handbook.lubrication import amounts
from camerawright.job.now import JobNow
from camerawright.papers.paper import Line, Paper, head
from camerawright.refit.lubrication import HERE, Point, Standing, chart
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused


@dataclass(frozen=True, kw_only=True)
class PointShown:
    """A point, what it gets and why."""

    part: str
    point: str
    amount: str
    lubricant: str = ""
    why: str = ""  # with its source
    doubt: str = ""  # where journal and handbook disagree
    known_from: str = ""  # "this job"
    is_done: bool = False


@dataclass(frozen=True, kw_only=True)
class LubricationChart(Paper):
    """What gets which lubricant, how much of it, and what stays dry; `untouched` of parts that were not off."""

    points: tuple[PointShown, ...] = ()
    dry: tuple[PointShown, ...] = ()
    untouched: tuple[PointShown, ...] = ()
    amounts: tuple[Line, ...] = ()  # what the word for an amount means


def lubrication_chart(workshop: Workshop, here: JobNow) -> LubricationChart:
    """What gets which lubricant, by this journal, earlier ones and the handbook."""
    points = chart(here.state, here.lore)
    if not points:
        raise Refused(
            f"no lubricated point is known for {here.job.id}",
            "enter each point with its amount, those that stay dry too",
            "lubrication chart",
        )

    def shown(*standings: Standing) -> tuple[PointShown, ...]:
        return tuple(_point(point) for point in points if point.standing in standings)

    used = {point.amount for point in points if point.amount != "dry"}
    return LubricationChart(
        **head(workshop, here),
        points=shown("due", "done"),
        dry=shown("stays dry"),
        untouched=shown("not off"),
        amounts=tuple(
            Line(label=amount.name, words=str(amount.meaning)) for amount in amounts().values() if amount.name in used
        ),
    )


def _point(point: Point) -> PointShown:
    return PointShown(
        part=point.part,
        point=point.point,
        amount=point.amount,
        lubricant=point.lubricant or "",
        why="" if point.source == point.origin else f"{point.why} [{point.source}]",
        doubt=point.doubt or "",
        known_from="this job" if point.origin == HERE else point.origin,
        is_done=point.standing == "done",
    )
