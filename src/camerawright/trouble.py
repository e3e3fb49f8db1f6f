"""What went wrong, in the one form in which every shell shows it: what is wrong, where, and how to mend it."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """One thing that the user can mend.

    `where` names the place: a file, a job, a field, an option; it is empty where the page or the command says it
    already. `can_overrule` says whether an entry goes through all the same when somebody gives a reason. `unknown` is
    a name that nobody used before, and `like` are those that it may have meant.
    """

    what: str
    mend: str
    where: str = ""
    can_overrule: bool = False
    unknown: str = ""
    like: tuple[str, ...] = ()

    def __str__(self) -> str:
        said = f"{self.where}: {self.what}" if self.where else self.what
        return " ".join((f"{said}; {self.mend}" if self.mend else said).split())


class Troubled(Exception):
    """Something was not done, and the user can mend it. Its subclasses say what was not done."""

    def __init__(self, what: str, mend: str, where: str = "") -> None:
        super().__init__(what, mend, where)
        self.troubles: tuple[Trouble, ...] = (Trouble(what=what, mend=mend, where=where),)

    @property
    def what(self) -> str:
        """What is wrong, of the first trouble."""
        return self.troubles[0].what

    @property
    def mend(self) -> str:
        """How to mend it, of the first trouble."""
        return self.troubles[0].mend

    @property
    def where(self) -> str:
        """Where it is, of the first trouble."""
        return self.troubles[0].where

    def __str__(self) -> str:
        return "\n".join(map(str, self.troubles))


class NotUnderstood(Troubled):
    """Something was typed that cannot be read; `where` is the field or option that it stands in."""


class Unreadable(Troubled):
    """A file cannot be read; `where` is its name."""


class NotMeasurable(Troubled):
    """A recording can be read and holds no answer."""


class Refused(Troubled):
    """Something was not done as things stand; `where` is what it was to be done to."""


class Stale(Refused):
    """The journal grew since the caller looked, so what was decided has to be checked again."""


class Damaged(Refused):
    """Something that is kept cannot be read any more."""
