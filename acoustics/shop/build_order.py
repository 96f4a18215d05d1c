"""The order in which a set is made, and what must be true before each step that cannot be taken back.

Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class BuildStep:
    """One step at the bench.

    Parameters
    ----------
    does : str
        What is done.
    first : tuple of str
        What must be true before; empty where the step can be taken back.
    """

    does: str
    first: tuple[str, ...] = ()

    @property
    def final(self) -> bool:
        """Whether it cannot be taken back."""
        return bool(self.first)


BUILD_ORDER: tuple[BuildStep, ...] = (
    BuildStep("Choose the pitch and the air: which fork, which room, and write both on every sheet."),
    BuildStep(
        "Cut and season the wood",
        ("the blanks are longer and thicker than the longest sheet asks", "their weight has stopped falling"),
    ),
    BuildStep(
        "Ream the chanter's bore to size",
        (
            "the chart of the bore as drawn lies within 10 cents in both octaves",
            "the gauges stop where the boring sheet says, short of the last pass",
            "the wood has rested since the last pass",
        ),
    ),
    BuildStep(
        "Make the chanter's reed and staple, and let them settle",
        ("the staple's mandrel and eye are as the sheet says", "the reed has been played for some days"),
    ),
    BuildStep(
        "Drill the chanter's holes, each under size",
        (
            "the chart of the reamed bore, as gauged, with this very reed has been made again",
            "every place is marked from the top of the wood and checked against the drilling list",
        ),
    ),
    BuildStep(
        "Cut the key seats and fit the keys with their pads and springs",
        (
            "the chart has the keys in it: a shut key flattens the notes below it",
            "the blocks are as long as the chart has them",
        ),
    ),
    BuildStep(
        "Open the chanter's holes to size, from the lowest up",
        ("all keys are on and shut tight", "low D and back D are an octave apart", "the room is as warm as written"),
    ),
    BuildStep(
        "Cut the drones' tubes",
        ("the slide can still go 40 cents sharp and 40 flat of the chanter's own D", "the reed has been tried"),
    ),
    BuildStep(
        "Bend or fold the bass drone",
        (
            "the tube is soft, clean and filled",
            "its straight lengths leave the trim that the bend sheet asks",
            "the cautions of the sheet have been read",
        ),
    ),
    BuildStep("Draw the slides until the drones stand still with the chanter and with each other."),
    BuildStep(
        "Ream the regulators' bores",
        ("the chanter and the drones agree: the regulators are tuned to them and not the other way",),
    ),
    BuildStep(
        "Drill the regulators' holes, each under size, lowest note first",
        (
            "the regulator is longer than drawn, so that its stopper can move either way",
            "the reed has settled",
            "all other holes are shut by pads, or the chart says what they will cost",
        ),
    ),
    BuildStep("Set the stoppers: each moves most the keys whose notes lie near that of the stopped piece of bore."),
    BuildStep(
        "Open the regulators' holes to size",
        ("the stopper stands where it will stay", "the drones sound and stand still"),
    ),
    BuildStep(
        "Glue, pin and finish",
        ("the whole set has been played in for weeks and charted again", "everything above is written down"),
    ),
)
