"""Moments as text, and the clock on the wall where an hour is skipped or comes twice."""

from datetime import MAXYEAR, datetime, timedelta

from camerawright.trouble import NotUnderstood


def moment(at: datetime) -> str:
    """A moment by the clock on the wall: ``2026-03-02 14:30``."""
    return f"{at.astimezone():%Y-%m-%d %H:%M}"


def by_the_wall_clock(shown: datetime) -> datetime:
    """The moment at which the clock on the wall shows this.

    Raises
    ------
    NotUnderstood
        It never does, as the clocks go forward then, or it does twice.
    """
    at = shown.astimezone()
    if shown.year == MAXYEAR:  # the clock looks a day ahead, and there is none
        return at
    if datetime.fromtimestamp(at.timestamp()) != shown:  # noqa: DTZ006  by the clock on the wall
        before, after = (f"{shown + timedelta(hours=hours):%Y-%m-%d %H:%M}" for hours in (-1, 1))
        raise NotUnderstood(
            f"the clocks go forward: there is no {shown:%H:%M} on {shown:%Y-%m-%d}", f"write {before} or {after}"
        )
    if comes_twice(at):
        first, second = (shown.replace(fold=fold).astimezone().isoformat(" ", "minutes") for fold in (0, 1))
        raise NotUnderstood(
            f"the clocks go back: {shown:%H:%M} comes twice on {shown:%Y-%m-%d}", f"write {first} or {second}"
        )
    return at


def comes_twice(at: datetime) -> bool:
    """Whether the clock on the wall shows this moment twice, as the clocks go back."""
    shown = at.astimezone().replace(tzinfo=None)
    return shown.replace(fold=0).astimezone().utcoffset() != shown.replace(fold=1).astimezone().utcoffset()
