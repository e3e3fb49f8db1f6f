"""Why a file could not be read, in a form that can be shown."""


class Unreadable(Exception):
    """A file that cannot be read: what, where, and how to mend it."""

    def __init__(self, what: str, where: str, mend: str) -> None:
        super().__init__(f"{where}: {what}; {mend}")
        self.what = what
        self.where = where
        self.mend = mend
