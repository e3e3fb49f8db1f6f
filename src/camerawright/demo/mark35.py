"""The invented 35 mm body with a cloth focal-plane shutter, left half stripped on the bench."""

from camerawright.demo.scene import Scene
from camerawright.workshop.rows import Camera


def mark35(serial: str) -> Camera:
    """An invented rangefinder body."""
    return Camera(maker="Tessbury", model="Mark 35", variant="cloth curtains, no self-timer", serial=serial)


def strip_halfway(scene: Scene) -> None:
    """Down to the shutter dial's spindle; then the telephone rang."""
    scene.set(
        {"film": "out", "shutter": "released", "speed": "1/50", "focus": "infinity", "counter": "0", "wind": "home"}
    )
    scene.say(
        "found", part="top plate", defect="one screw is foreign: cross-head, cut short", todo="make a slotted M1.7 × 4"
    )
    scene.remove(
        "rewind knob",
        screws=("1 x M1.7 x 2 grub",),
        cell="A1",
        place="left of the top plate",
        made_of=("aluminium", "anodised"),
        soil=("dust",),
        torque="normal",
    )
    scene.remove("accessory shoe", screws=("4 x M1.4 x 3 countersunk",), cell="A2", made_of=("brass", "chrome plated"))
    scene.say("marked", part="shutter dial", mark="1/50 against the dot, released; set screw over the flat")
    scene.say(
        "cautioned",
        part="shutter dial",
        hazard="a 1.5 mm ball and its spring sit beneath: lift the dial with the body lying on its back, in a bag",
        escapes=True,
        frees=["detent ball", "detent spring"],
    )
    scene.say(
        "needs state",
        part="shutter dial",
        settings={"shutter": "released"},
        moves="both",
        reason="its pawl rides the cam",
    )
    scene.remove(
        "shutter dial",
        screws=("3 x M1.2 x 2 grub",),
        shims=("1 x 0.05 beneath",),
        cell="A3",
        made_of=("brass", "chrome plated with filled engraving"),
        loose=("detent ball", "detent spring"),
        minutes=7,
    )
    scene.say("marked", part="wind lever", mark="home against its stop, 4 o'clock")
    scene.remove(
        "wind lever", cell="A5", screws=("1 x M2 x 5 cheese left",), made_of=("brass", "chrome plated"), torque="tight"
    )
    scene.remove(
        "top plate",
        screws=("3 x M1.7 x 4 cheese", "2 x M1.7 x 2.5 cheese", "1 x M1.7 x 6 cheese"),
        cell="C1",
        under=("rewind knob", "accessory shoe", "shutter dial", "wind lever"),
        made_of=("brass", "chrome plated"),
        minutes=8,
    )
    scene.say("reminded", part="top plate", todo="solder the flash lead back on first")
    scene.say("reminded", part="top plate", todo="clean the beam splitter's face and the eyepiece")
    scene.say(
        "tension",
        spring="second curtain",
        act="let down",
        turns=4.5,
        direction="anticlockwise",
        from_state="released, drum against its stop",
    )
    scene.say(
        "tension", spring="first curtain", act="let down", turns=4, direction="anticlockwise", from_state="released"
    )
    scene.say("irreplaceable", part="beam splitter", reason="its half-silvering cannot be had again")
    scene.say("aid fitted", aid="rubber band", place="holds the curtain drum")
    scene.say(
        "ordered", first="rangefinder cover", then="beam splitter", reason="covers it and pins its frame", certain=True
    )
    scene.say("worked", minutes=50, task="strip-down to the shutter spindle")
