"""What can do harm at each step, in one line each, for the foot of a sheet.

Sources: HSE woodworking sheet 30, Toxic woods; HSE EIS31 and the
OSHA cadmium standard (29 CFR 1910.1027) for solder fume; the rest is common practice, no source.
"""

from __future__ import annotations

DUST = "Wood dust harms lungs and skin, hardwood dust can cause cancer: extract it, wear a mask that fits."
LATHE = "Lathe and long drills: eye protection, no gloves or loose sleeves; clear chips often, never by hand."
REAMER = "Reamer: turn slowly, clear it often, never force it; it seizes, splits the wood and spins the work."
DRILLING = "Drill press: clamp the work in a cradle, tie back hair and sleeves, eye protection."
METAL = "Cut sheet is sharp: break its edges, wear gloves away from machines only."
TORCH = "Torch and pickle: fresh air, no fuel near, eye protection, acid into water; use cadmium-free solder."
KNIFE = "Knives and cane: cut away from the hand, keep the dust of cane out of the lungs too."
LAW = "The law of your country and the makers' safety sheets come first."
