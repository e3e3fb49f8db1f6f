"""The invented folding camera: how its front comes apart, and goes together again."""

from camerawright.demo.scene import Scene
from camerawright.job.cleaning import plan
from camerawright.refit.routes import route_of
from camerawright.workshop.rows import Camera

SECOND_PATTERN = "second pattern, rim-set shutter"
F_NUMBERS = (3.5, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0)


def falter(serial: str) -> Camera:
    """An invented roll-film folder with a leaf shutter and front-cell focusing."""
    return Camera(maker="Orlmann", model="Falter 6×6", variant=SECOND_PATTERN, serial=serial, f_numbers=F_NUMBERS)


def open_the_front(scene: Scene, *, ring_stop: str, turns: str) -> None:
    """From the focus ring down to the front of the shutter."""
    scene.set({"shutter": "released", "speed": "1/25", "aperture": "wide open", "focus": "infinity"})
    scene.say("marked", part="focus ring", mark=f"infinity against the dot, ring on its stop; {ring_stop}")
    scene.remove(
        "focus ring",
        screws=("3 x M1.4 x 1.6 grub",),
        cell="A1",
        place="round the front cell",
        made_of=("brass", "black paint with filled engraving"),
        soil=("dried grease",),
        torque="normal",
    )
    scene.say("marked", part="front cell", mark=f"leaves its thread {turns} turns from infinity, dot at 10 o'clock")
    scene.remove(
        "front cell",
        cell="A2",
        under=("focus ring",),
        made_of=("brass", "black paint"),
        soil=("dried grease",),
        torque="tight",
        minutes=9,
    )
    scene.remove(
        "retaining ring",
        cell="A3",
        under=("front cell",),
        made_of=("brass", "nickel plated"),
        soil=("old oil",),
        torque="normal",
    )
    scene.remove(
        "speed ring",
        cell="A4",
        under=("retaining ring",),
        made_of=("aluminium", "anodised with filled engraving"),
        soil=("dust",),
        torque="free",
    )


def open_the_shutter(scene: Scene) -> None:
    """From the cam ring down to the blades."""
    scene.say("contains", part="shutter", parts=["cam ring", "slow train", "blade cover", "shutter blades"])
    scene.say("marked", part="cam ring", mark="lug between the two pins, B notch at the wind lever, shutter released")
    scene.remove("cam ring", assembly="shutter", cell="B1", made_of=("steel", "none"), soil=("old oil",), torque="free")
    scene.say(
        "cautioned",
        part="slow train",
        hazard="its return spring jumps off the stud when the second screw lets go: hold it with pegwood",
        escapes=True,
    )
    scene.remove(
        "slow train",
        assembly="shutter",
        screws=("2 x M1.2 x 3 cheese",),
        shims=("1 x 0.10 under the left foot",),
        cell="B2",
        under=("cam ring",),
        made_of=("riveted brass", "none"),
        soil=("old oil", "dust"),
        torque="normal",
        minutes=6,
    )
    scene.say("reminded", part="slow train", todo="hook the return spring outside the stud before the screws go in")
    scene.remove(
        "blade cover",
        assembly="shutter",
        screws=("3 x M1.0 x 2 cheese", "1 x M1.0 x 1.4 cheese at pawl hole"),
        cell="B3",
        under=("slow train",),
        made_of=("brass", "none"),
        soil=("old oil",),
        torque="normal",
    )
    scene.remove(
        "shutter blades",
        assembly="shutter",
        cell="B4",
        under=("blade cover",),
        made_of=("steel shutter blades", "chemical blacking"),
        soil=("old oil",),
        place="five, lapped clockwise seen from the front",
        minutes=4,
    )
    scene.say(
        "hold point",
        part="speed ring",
        check="blades snap open and shut dry, ten times, held level and held down",
        needs=["shutter blades", "slow train", "cam ring"],
    )


def close_the_shutter(scene: Scene) -> None:
    """Blades to cam ring."""
    scene.say("lubricated", part="shutter blades", point="blades, both faces", amount="dry")
    scene.refit("shutter blades")
    scene.refit("blade cover")
    scene.answer("return spring", "hooked, pegwood held it")
    scene.say("lubricated", part="slow train", point="pivots", amount="touch", lubricant="light synthetic oil")
    scene.say("lubricated", part="slow train", point="pallet and teeth", amount="dry")
    scene.refit("slow train")
    scene.refit("cam ring")
    scene.answer("blades snap", "the third hung half shut, held down: a trace of solvent", outcome="failed")
    scene.answer("blades snap", "ten of ten, level and down")


def close_the_front(scene: Scene) -> None:
    """Speed ring to focus ring."""
    scene.say(
        "lubricated", part="front cell", point="focusing thread", amount="film", lubricant="helicoid grease, light"
    )
    for part in ("speed ring", "retaining ring", "front cell", "focus ring"):
        scene.refit(part)


def clean_everything(scene: Scene) -> None:
    """Enter each part as cleaned, by the route computed for it."""
    for question in plan(scene.job_now).questions:
        spec = question.spec
        scene.say("described", parts=question.parts, material=spec.material, finish=spec.finish, soil=spec.soil)
    for part in scene.job_now.state.off:
        for turn in route_of(part).turns():
            scene.say("cleaned", part=part.name, route=turn.name)
