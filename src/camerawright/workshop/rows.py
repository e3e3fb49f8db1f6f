"""The directory: owners, cameras and jobs, as plain rows. What happened to them stands in the journal, not here."""

from dataclasses import dataclass, field
from datetime import date, datetime

from camerawright.wording.names import name_key


@dataclass(frozen=True, kw_only=True)
class Owner:
    """Whoever brought a camera in."""

    name: str
    contact: str = ""


@dataclass(frozen=True, kw_only=True)
class Camera:
    """One camera, told from all others by maker, model and serial number.

    `f_numbers` are the apertures engraved on its lens, the widest first; none where nobody entered them.
    """

    maker: str
    model: str
    serial: str
    variant: str = ""
    f_numbers: tuple[float, ...] = ()

    @property
    def variant_key(self) -> str:
        """What two cameras share when one teaches about the other."""
        return " / ".join(map(name_key, (self.maker, self.model, self.variant)))

    @property
    def title(self) -> str:
        """How the camera is spoken of."""
        named = f"{self.maker} {self.model}"
        return f"{named}, {self.variant}" if self.variant else named


@dataclass(frozen=True, kw_only=True)
class Visit:
    """What was agreed and seen when the camera came in."""

    taken_in: date
    owners_words: str = ""
    film_inside: bool = False
    accessories: tuple[str, ...] = ()
    condition: str = ""
    wanted: str = ""
    profile: str = "user"  # tolerance profile


@dataclass(frozen=True, kw_only=True)
class Job:
    """One visit of one camera. `id` is "J" and a number, short enough to say aloud."""

    id: str
    owner: Owner
    camera: Camera
    visit: Visit = field(repr=False)


@dataclass(frozen=True, kw_only=True)
class Kin:
    """A job of the same maker and model, in short: its variant, as a key and in words, and its last entry's number."""

    job: str
    variant_key: str
    variant: str
    last_entry: int


@dataclass(frozen=True, kw_only=True)
class Variant:
    """A variant that has been here, by its newest camera, and in how many jobs."""

    camera: Camera
    n_jobs: int


@dataclass(frozen=True, kw_only=True)
class Glance:
    """Where a job stands, as a list shows it. It holds until something is entered, or until `good_until`."""

    stage: str
    is_done: bool  # closed, or handed back
    n_off: int
    n_owed: int
    next_step: str  # what it wants next, in a few words
    good_until: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class Names:
    """What was taken in before, each name once: what a form proposes."""

    owners: tuple[str, ...]
    makers: tuple[str, ...]
    models: tuple[str, ...]
    variants: tuple[str, ...]
    f_numbers: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, kw_only=True)
class Terms:
    """What the workshop puts on its papers; edited in `workshop.toml`."""

    name: str = "Unnamed bench"
    address: str = ""
    currency: str = "EUR"
    hourly_rate_minor: int = 0
    tax_percent: str | None = None  # decimal in a string; None prints no tax line
