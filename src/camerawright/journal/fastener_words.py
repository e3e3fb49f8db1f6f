"""The words of the trade for fasteners: what they are called, what describes them, what is none."""

from typing import Final

THREADLESS: Final = frozenset(
    ("pin", "dowel", "rivet", "circlip", "e-clip", "c-clip", "clip", "snap-ring", "eyelet", "key", "washer", "staple",
     "peg", "cotter", "tack", "nail")
)  # fmt: skip
THREADED: Final = frozenset(("ring", "collar", "screw", "nut", "grub", "bolt", "stud", "post", "pillar", "standoff"))
ONE_OF: Final = {f"{noun}s": noun for noun in THREADLESS | THREADED}
SILENT: Final = frozenset(
    {"screw", "screws", "machine", "of", "the", "off", "other", "thread", "threads", "unc", "unf"}
)
"""Words that say nothing more of a fastener."""
ALL_ALIKE: Final = frozenset({"all", "both", "alike", "same", "equal", "identical", "each"})

DESCRIBES: Final = frozenset(
    ("cheese", "pan", "flat", "countersunk", "csk", "raised", "oval", "round", "dome", "domed", "button", "fillister",
     "binding", "truss", "mushroom", "knurled", "slotted", "slot", "cross", "recess", "recessed", "phillips", "hex",
     "hexagon", "socket", "shoulder", "shouldered", "stepped", "headless", "head", "headed", "grub", "set", "pointed",
     "cone", "cup", "point", "dog", "hollow", "tapping", "self-tapping", "wood", "thumb", "captive", "threaded",
     "pin-slot", "two-pin", "coin-slotted", "pozi", "pozidriv", "philips", "jis", "torx", "allen", "cap", "hd", "chs",
     "washer-faced", "flanged", "spanner", "locking", "retaining", "lock", "self", "special", "roll", "taper", "hinge",
     "bsw", "bsf", "whitworth", "spring", "fibre", "split", "pozidrive",
     "long", "short", "small", "big", "large", "tiny", "thick", "thin", "fine", "coarse", "wide", "narrow", "low",
     "high", "tall",
     "brass", "steel", "stainless", "nickel", "nickelled", "chrome", "chromed", "plated", "silver", "nylon", "plastic",
     "aluminium", "aluminum", "copper", "bronze", "iron", "alloy", "zinc", "bright", "plain", "polished", "blued",
     "blackened", "painted", "black", "blue", "gold", "white", "grey", "gray", "red", "green", "yellow")
)  # fmt: skip
"""What may follow “2 screws” and describe all of them: head, drive and point, size, material and finish."""

_LOOSE: Final = (
    "spring", "ball", "pawl", "roller", "lever", "blade", "detent", "sleeve", "gear", "wheel", "pad",
)  # fmt: skip
ELSEWHERE: Final = {
    f"{noun}{ending}": f"this is no screw: enter it under {where}"
    for nouns, where in (
        (_LOOSE, "loose parts (--loose)"),
        (("shim",), "shims (--shim)"),
        (("lead", "wire"), "leads (--lead)"),
    )
    for noun in nouns
    for ending in ("", "s")
}
"""What is no fastener, and where it belongs."""

WRONG_WITH_IT: Final = frozenset(
    ("stripped", "broken", "sheared", "snapped", "chewed", "bent", "rusty", "rusted", "cross-threaded", "damaged",
     "worn", "loctited", "seized", "stuck", "loose", "odd", "burred", "butchered", "tight")
)  # fmt: skip
"""What a finding says of a screw."""
LEFT_PERHAPS: Final = frozenset({"reversed", "reverse", "backwards", "anticlockwise", "anti-clockwise"})
NOT_THERE: Final = frozenset({"missing", "absent", "gone", "lost"})
ABOUT: Final = frozenset(
    {"approx", "approximately", "about", "roughly", "ish", "circa", "ca", "nearly", "more", "another"}
)
