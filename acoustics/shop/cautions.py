"""What can do harm at each step, in a line or two each, for the foot of a sheet.

Sources are in `SOURCES`; what they do not cover is common practice, no source.
"""

from __future__ import annotations

DUST = "Wood dust harms lungs and skin, hardwood dust can cause cancer: extract it, wear a mask that fits."
LATHE = "Lathe and long drills: eye protection, no gloves or loose sleeves; clear chips often, never by hand."
REAMER = "Reamer: turn slowly, clear it often, never force it; it seizes, splits the wood and spins the work."
DRILLING = "Drill press: clamp the work in a cradle, tie back hair and sleeves, eye protection."
METAL = "Cut sheet is sharp: break its edges, wear gloves away from machines only."
TORCH = "Torch and pickle: fresh air, no fuel near, eye protection, acid into water; use cadmium-free solder."
KNIFE = "Knives and cane: cut away from the hand, keep the dust of cane out of the lungs too."
OIL = "Rags with drying oil can catch fire by themselves: spread them out to dry, or keep them under water."
FILLER = (
    "Low-melting filler: the common alloys contain lead and often cadmium; use one of bismuth, indium and tin, free of "
    "both. Melt it in hot water, never with a flame, and do not overheat it. Gloves, ventilation, no food or drink "
    "near; collect every residue as hazardous waste; never in a part that is blown by mouth."
)
TRACE = "Filler left in a tube fumes and makes brass brittle when heated: boil it out and look before any flame."
SILVER = (
    "Silver solder: cadmium-free only, fume of cadmium harms the lungs before you notice; ventilation, no overheating, "
    "flux off the skin."
)
PICKLE = "Pickling acid: goggles, gloves, acid into water and never water into acid, no hot metal into it; rinse well."
SPLASH = (
    "Oil or water in a tube that is annealed or filled flashes into steam and throws hot oil or metal: dry the tube, "
    "keep both ends open, face away from them, let it cool in air."
)
LICENSED = "Local codes and licensed practice decide where they differ from this sheet."
LAW = "The law of your country and the makers' safety sheets come first."

SOLDERING = (SILVER, PICKLE)
BENDING = (FILLER, TRACE, SPLASH, *SOLDERING, DUST, LICENSED, LAW)
AT_MOVES = {
    "softness": (KNIFE,),
    "reed length": (KNIFE,),
    "staple tip": (METAL, TORCH, *SOLDERING, LICENSED),
    "staple foot": (METAL, TORCH, *SOLDERING, LICENSED),
    "undercut": (DUST, KNIFE),
    "enlarge": (DUST, KNIFE),
    "ream": (DUST, REAMER),
}

SOURCES = (
    ("lead", "OSHA 29 CFR 1910.1025; IARC Monographs vol. 87, 2006 (from memory)"),
    ("cadmium, in fillers and solder", "OSHA 29 CFR 1910.1027; IARC Monographs vol. 100C, 2012 (from memory)"),
    ("fume of solder and flux", "HSE information sheet EIS31"),
    ("acids and other chemicals", "OSHA 29 CFR 1910.1200, and the maker's safety sheet (from memory)"),
    ("wood dust", "HSE woodworking sheet 30, Toxic woods; IARC Monographs vol. 100C, 2012 (from memory)"),
    ("steam and splashes from hot tube", "common practice, no source"),
    ("oily rags", "common practice, no source"),
)


def at_moves(*names: str) -> tuple[str, ...]:
    """What to mind at moves on the bench, each caution once.

    Parameters
    ----------
    names : str
        Kinds of move and dimensions that they touch ("ream", "staple tip"); what can do no harm is passed over.
    """
    return tuple(dict.fromkeys([*(line for name in names for line in AT_MOVES.get(name, ())), LAW]))
