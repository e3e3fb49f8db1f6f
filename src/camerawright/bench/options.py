"""The options of a bench test: what is told about a set-up, and how the typed text is read."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, TypeVar, overload

from camerawright.trouble import NotUnderstood
from camerawright.wording import numbers

Word = TypeVar("Word", bound=str)


_UNITS: Final = {"OHM": "Ω", "MM": "mm", "MS": "ms", "US": "µs", "HZ": "Hz", "FPS": "frames a second"}
_DECIMAL: Final = re.compile(r"[-+]?\d{1,9}([.,]\d{1,9})?")


@dataclass(frozen=True)
class Option:
    """One thing about the set-up that no recording shows: a keyword of `run`, given as the text that was typed.

    `label` names it for people; `about` says more: what to write, and what is taken where nothing is told. On the
    command line it is ``--name METAVAR``, with a dash for each underscore. `choices` are the words there are, where it
    takes one of a few. What is `of_camera` belongs to the camera and not to the bench: it is not filled in from another
    job's reading.
    """

    name: str
    metavar: str
    label: str
    about: str = ""
    choices: tuple[str, ...] = ()
    of_camera: bool = False

    @property
    def help(self) -> str:
        """What the command line says of it."""
        choices = f" ({', '.join(self.choices)})" if self.choices else ""
        return f"{self.label}{choices}{f', {self.about}' if self.about else ''}."

    @property
    def on_command_line(self) -> str:
        """Its spelling on the command line: ``--sensor-at``."""
        return f"--{self.name.replace('_', '-')}"

    @property
    def example(self) -> str:
        """What stands in its empty field: the unit, else what kind of thing it is."""
        return _UNITS.get(self.metavar, self.metavar)

    def tidied(self, text: str) -> str:
        """What was typed, a single number as every other way of writing it: ``28,80`` as ``28.8``."""
        text = text.strip()
        if self.metavar not in _UNITS or not _DECIMAL.fullmatch(text):
            return text
        return repr(float(text.replace(",", "."))).removesuffix(".0")

    def in_words(self, text: str) -> str:
        """What was told, with its unit as the trade writes it: ``series 220 Ω``."""
        metavar = self.metavar.partition(",")[0]
        label = self.name.removesuffix(f"_{metavar.lower()}").replace("_", " ")
        return f"{label} {text} {_UNITS.get(metavar, '')}".rstrip()


def quoted(label: str) -> str:
    """An option by its label, as a sentence names it: the page has a field of that label."""
    return f"“{label}”"


def for_command_line(text: str, options: Iterable[Option]) -> str:
    """A sentence as the terminal says it: options as they are typed there."""
    for option in options:
        text = text.replace(quoted(option.label), option.on_command_line)
    return text


def _as_typed(option: str) -> str:
    """An option's name as it is typed: with dashes."""
    return option.replace("_", "-")


def choice(option: str, given: str | None, known: tuple[Word, ...]) -> Word | None:
    """One of a few words, in any case; None where nothing was told.

    Raises
    ------
    NotUnderstood
        It is none of them.
    """
    if given is None:
        return None
    for word in known:
        if given.strip().casefold() == word.casefold():
            return word
    raise NotUnderstood(f"{given!r} is not known", f"give one of {', '.join(known)}", _as_typed(option))


@overload
def number(option: str, given: str, least: float, most: float) -> float: ...
@overload
def number(option: str, given: str | None, least: float, most: float) -> float | None: ...
def number(option: str, given: str | None, least: float, most: float) -> float | None:
    """A number within reason; None where nothing was told.

    Raises
    ------
    NotUnderstood
        It is no such number.
    """
    if given is None:
        return None
    mend = f"give a number from {numbers.short(least)} to {numbers.short(most)}"
    try:
        value = float(given.strip().replace(",", "."))
    except ValueError:
        raise NotUnderstood(f"{given!r} is no number", mend, _as_typed(option)) from None
    if not least <= value <= most:
        raise NotUnderstood(f"{given!r} is out of range", mend, _as_typed(option))
    return value
