"""An invented chanter in D, and what every refusal must look like; for tests only."""

import re

from acoustics.errors import Refusal
from acoustics.pipes.bore import Body, Bore
from acoustics.pipes.chanter import Chanter
from acoustics.pipes.holes import Key, ToneHole
from acoustics.pipes.reed import Reed
from acoustics.pipes.rush import Rush
from acoustics.pipes.staple import Staple


def sample_chanter() -> Chanter:
    """Length 356 mm, bore from 5.2 to 12.9 mm, eight finger holes and four keys."""
    return Chanter(
        name="Sliabh Ban, invented",
        reed=Reed(length_mm=24.0, area_mm2=14.0, perimeter_mm=22.0),
        staple=Staple(
            length_mm=50.0, foot_mm=4.9, tip_mm=3.8, insertion_mm=26.0, eye_opening_mm=1.7, flattened_mm=22.0
        ),
        bore=Bore([(0.0, 5.9), (30.0, 5.2), (31.0, 5.2), (31.0, 5.3), (150.0, 8.0), (250.0, 10.3), (356.0, 12.9)]),
        body=Body([(0.0, 17.0), (150.0, 17.5), (330.0, 19.0), (330.0, 24.0), (356.0, 26.0)]),
        rush=Rush(diameter_mm=1.5, top_mm=240.0, foot_mm=356.0),
        holes=[
            ToneHole("back D", 72.0, 5.0, face="back"),
            ToneHole("C#", 96.5, 5.2, tilt_deg=8.0),
            Key("C natural", 104.0, 4.5, duct=[(3.0, 4.6), (1.5, 5.0)], pad_diameter_mm=9.5),
            ToneHole("B", 125.0, 5.5),
            Key("Bb", 133.0, 4.6),
            ToneHole("A", 153.0, 5.8, undercut_diameter_mm=6.6, undercut_depth_mm=2.5),
            ToneHole("G", 184.0, (5.4, 6.0)),
            Key("G#", 176.0, 5.0),
            ToneHole("F#", 217.0, 5.6, depth_mm=4.1),
            Key("F natural", 232.0, 5.2, lift_mm=3.0),
            ToneHole("E", 246.0, 6.4),
            ToneHole("Eb", 285.0, 6.8),
        ],
    )


def assert_one_sentence(refusal: Refusal, start: str) -> None:
    """One plain sentence that starts with its place and ends with what is allowed."""
    sentence = str(refusal)
    assert sentence.startswith(start)
    assert "\n" not in sentence
    assert sentence.endswith(".")
    assert not sentence.endswith("..")
    assert not re.search(r"[.!?]\s+[A-Z]", sentence), "more than one sentence"
    assert len(sentence) < 400
    said, semicolon, allowed = sentence.rpartition("; ")
    assert semicolon
    assert len(said) >= len(start)
    assert len(allowed.split()) >= 3, "what is allowed must be said"
