"""Independent calculations that the tests compare the package with; nothing here imports the package.

Time factor exp(+jwt), SI units, impedance = acoustic pressure / volume flow, flow positive into the pipe.
"""
