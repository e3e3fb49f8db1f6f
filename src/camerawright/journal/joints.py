"""What holds the parts and lies beneath them, counted by likeness: what came out, and what goes back."""

from camerawright.journal.entries import Fastener, Loose, Refitted, Removed, Shim

Joint = tuple[str, str]
"""Kind ("screw", "shim" or "loose part") and the description that makes two of them alike."""


def _fastener_joint(fastener: Fastener) -> Joint:
    parts = [fastener.size]
    if fastener.length_mm is not None:
        parts.append(f"× {fastener.length_mm:g} mm")
    parts += [text for text in (fastener.head, "left-hand" if fastener.hand == "left" else None) if text]
    return "screw", " ".join(parts)


def _shim_joint(shim: Shim) -> Joint:
    thickness = f"{shim.thickness_mm:.2f} mm" if shim.thickness_mm is not None else "thickness not taken"
    return "shim", f"{thickness}, {shim.place}"


def _loose_joint(loose: Loose) -> Joint:
    return "loose part", f"{loose.what}, {loose.place}" if loose.place else loose.what


def hardware(entry: Removed | Refitted) -> dict[Joint, int]:
    """How many of each like fastener, shim and loose part went out or in with a part."""
    counts: dict[Joint, int] = {}
    for joint, count in (
        *((_fastener_joint(fastener), fastener.count) for fastener in entry.fasteners),
        *((_shim_joint(shim), shim.count) for shim in entry.shims),
        *((_loose_joint(loose), loose.count) for loose in entry.loose),
    ):
        counts[joint] = counts.get(joint, 0) + count
    return counts


def joint_text(joint: Joint) -> str:
    """A kind of fastener or shim in words."""
    kind, description = joint
    return f"{kind} {description}"
