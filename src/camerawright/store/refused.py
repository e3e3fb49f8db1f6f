"""How the store says no: what, where, and the mend."""


class Refused(Exception):
    """Something was not done, for a reason that the user can mend.

    Parameters
    ----------
    what
        The thing that is wrong: "job J9", "the workshop".
    where
        Its place, and what is wrong there.
    mend
        What to do about it.
    """

    def __init__(self, what: str, where: str, mend: str) -> None:
        super().__init__(what, where, mend)
        self.what = what
        self.where = where
        self.mend = mend

    def __str__(self) -> str:
        return " ".join(f"{self.what}: {self.where}; {self.mend}".split())


class Stale(Refused):
    """The journal grew since the caller looked, so what was decided has to be checked again."""
