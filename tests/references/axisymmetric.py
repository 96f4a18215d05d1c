"""Lossless sound and potential flow in bodies of revolution, by finite elements (scikit-fem, quadratic quads).

Weak form of Helmholtz's equation with the weight r of the axis: integral of r (grad p . grad q - k^2 p q). The
coordinates are (z, r); side walls and the axis are rigid by nature of the form.

The ends of a cone. The spherical-wave roots are exact, along the slant, for a cone whose ends are spherical caps
through the rims (`spherical_cap_modes`). A cone with flat ends is not that body. Averaged over its plane, a flat
end at the axial distance x from the apex lies at the distance x (1 + theta^2/4) from it (theta: half angle); a cap
at that distance also encloses the volume of the flat-ended cone. Both ends move by the same factor, so the modes of
the flat-ended cone are the roots for AXIAL distances times 1/(1 + theta^2/4) (`flat_end_factor`), and those for slant
distances times about 1 + theta^2/4. For r 2.3 to 6.2 mm over 400 mm this is 0.041 cents below the axial roots and
0.041 cents above the slant ones. What is left grows like theta^3 (the evanescent cross modes at the ends, which are
excited like theta^2 in energy and reach in about as far as the radius, again theta); here it is 0.0002 cents.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from scipy.sparse.linalg import eigsh, splu
from skfem import Basis, BilinearForm, ElementQuad2, FacetBasis, LinearForm, MeshQuad, MeshQuad2, condense, solve
from skfem.helpers import dot, grad


@BilinearForm
def _stiffness(p, q, w):
    return w.x[1] * dot(grad(p), grad(q))


@BilinearForm
def _mass(p, q, w):
    return w.x[1] * p * q


@LinearForm
def _areal(q, w):
    return w.x[1] * q


def _mapped(shape, across: int, z_lines) -> MeshQuad2:
    """Curved quads between the given lines s in [0, 1]; shape(s, t) -> (z, r) for t in [0, 1]."""
    flat = MeshQuad.init_tensor(np.asarray(z_lines, float), np.linspace(0, 1, across + 1))
    curved = MeshQuad2.from_mesh(flat)
    curved = curved.with_boundaries({"inlet": lambda x: x[0] < 1e-12, "outlet": lambda x: x[0] > 1 - 1e-12})
    curved.doflocs[:] = np.array(shape(*curved.doflocs.copy()))
    return curved


def _modes(mesh: MeshQuad2, c: float, modes: int):
    """Frequencies of the lowest modes with p = 0 at the outlet."""
    basis = Basis(mesh, ElementQuad2())
    inside = basis.complement_dofs(basis.get_dofs("outlet"))
    k = _stiffness.assemble(basis)[inside][:, inside]
    m = _mass.assemble(basis)[inside][:, inside]
    eigenvalues = eigsh(k, k=modes, M=m, sigma=0.0, which="LM", return_eigenvectors=False)
    return c * np.sqrt(np.sort(eigenvalues)) / (2 * np.pi)


def flat_ended_modes(r1: float, r2: float, length: float, c: float, modes: int = 4, along: int = 48, across: int = 4):
    """Cone between two plane sections, closed at r1, p = 0 at r2 (`along` times `across` elements)."""
    mesh = _mapped(lambda s, t: (s * length, t * (r1 + (r2 - r1) * s)), across, np.linspace(0, 1, along + 1))
    return _modes(mesh, c, modes)


def spherical_cap_modes(
    r1: float, r2: float, length: float, c: float, modes: int = 4, along: int = 48, across: int = 4
):
    """The cone with the same rims whose ends are spherical caps about the apex, closed at r1, p = 0 at r2."""
    angle = half_angle(r1, r2, length)
    start = r1 / np.sin(angle)
    slant = (r2 - r1) / np.sin(angle)

    def shape(s, t):
        return (start + s * slant) * np.cos(t * angle), (start + s * slant) * np.sin(t * angle)

    return _modes(_mapped(shape, across, np.linspace(0, 1, along + 1)), c, modes)


def half_angle(r1: float, r2: float, length: float) -> float:
    """Angle between the axis and the wall of a cone."""
    return float(np.arctan((r2 - r1) / length))


def flat_end_factor(r1: float, r2: float, length: float) -> float:
    """Frequency of a flat-ended cone over the spherical-wave root for its axial distances."""
    return 1 / (1 + half_angle(r1, r2, length) ** 2 / 4)


def input_impedance(stations, frequency, rho: float, c: float, element: float = 2.5e-3, across: int = 3):
    """Driving impedance of a body of revolution with p = 0 at its plane far end, over an array of frequencies.

    `stations` are (z, r) [m] in order, with straight sides between; z must grow (no steps). The entry moves like a
    plane piston and the pressure is the mean over it, so a cone that begins at the entry carries a small extra
    inertance there, which a straight lead-in of about its radius removes. `element` is the longest element [m].
    """
    z, r = np.asarray(stations, float).T
    pieces = [np.linspace(a, b, max(1, int(np.ceil((b - a) / element))) + 1)[:-1] for a, b in pairwise(z)]
    lines = (np.concatenate([*pieces, z[-1:]]) - z[0]) / (z[-1] - z[0])

    def shape(s, t):
        axial = z[0] + s * (z[-1] - z[0])
        return axial, t * np.interp(axial, z, r)

    mesh = _mapped(shape, across, lines)
    basis = Basis(mesh, ElementQuad2())
    inside = basis.complement_dofs(basis.get_dofs("outlet"))
    stiffness = _stiffness.assemble(basis)[inside][:, inside].tocsc()
    mass = _mass.assemble(basis)[inside][:, inside].tocsc()
    entry = _areal.assemble(FacetBasis(mesh, ElementQuad2(), facets="inlet"))[inside]
    half_square = r[0] ** 2 / 2  # integral of r over the entry
    impedances = []
    for f in np.atleast_1d(np.asarray(frequency, float)):
        omega = 2 * np.pi * f
        # -dp/dz = j omega rho u at the entry, u = U/(pi r^2), for U = 1
        p = splu(stiffness - (omega / c) ** 2 * mass).solve(entry)
        impedances.append(1j * omega * rho / (np.pi * r[0] ** 2) * (entry @ p) / half_square)
    return np.array(impedances)


def _graded(near: float, far: float, first: float, ratio: float = 1.25):
    """Lines from near to far whose spacing grows from `first` by `ratio`, at most an eighth of the distance."""
    span, step, at = abs(far - near), first, 0.0
    lines = [0.0]
    while at + step * 1.2 < span:
        at += step
        lines.append(at)
        step = min(step * ratio, span / 8)
    return near + np.sign(far - near) * np.array([*lines, span])


def step_inertance(r1: float, r2: float, finest: float = 1e-5, wide: float | None = None):
    """Added length l/r1 of a step from r1 to r2 > r1 at low frequency: inertance rho l/(pi r1^2).

    Potential flow from a far section of the narrow pipe to one of the wide pipe, lines graded towards the edge
    down to `finest` times r1; the far sections have even potential. The energy bounds the inertance from below.
    The wide pipe is 3 of its radii long, or `wide` times r1: then the step is one half of a gap of twice that length.
    """
    if not 0 < r1 < r2:
        raise ValueError("the first radius must be the smaller one")
    ratio, narrow = r2 / r1, -3.0
    wide = 3.0 * ratio if wide is None else wide
    z = np.unique(np.r_[_graded(0, narrow, finest), _graded(0, wide, finest)])
    gap = ratio - 1
    inner, outer = _graded(1, 0, finest), _graded(1, 1 + gap / 2, finest)
    wall = _graded(ratio, 1 + gap / 2, gap / 16, 1.0)
    mesh = MeshQuad.init_tensor(z, np.unique(np.r_[inner, outer, wall]))
    middle = mesh.p[:, mesh.t].mean(axis=1)
    mesh = mesh.remove_elements(np.flatnonzero((middle[0] < 0) & (middle[1] > 1)))
    mesh = mesh.with_boundaries({"inlet": lambda x: x[0] < narrow + 1e-9, "outlet": lambda x: x[0] > wide - 1e-9})
    basis = Basis(mesh, ElementQuad2())
    stiffness = _stiffness.assemble(basis)
    inlet, outlet = basis.get_dofs("inlet").all(), basis.get_dofs("outlet").all()
    potential = np.zeros(basis.N)
    potential[inlet] = 1.0
    potential = solve(*condense(stiffness, x=potential, D=np.r_[inlet, outlet]))
    drop = 0.5 / (potential @ stiffness @ potential)  # of potential, for unit velocity at the entry
    return float(drop - abs(narrow) - wide / ratio**2)


def stepped_modes(pieces, c: float, modes: int = 2, finest: float = 0.02):
    """Frequencies of a rigid pipe of cylinders (length, radius) in a row, closed at the first, p = 0 at the last's end.

    Lines are graded towards every step down to `finest` times the smallest radius; the modes come from above.
    """
    lengths, radii = np.asarray(pieces, float).T
    edges = np.concatenate([[0.0], np.cumsum(lengths)])
    first = finest * radii.min()
    halves = [(a, (a + b) / 2, b) for a, b in pairwise(edges)]
    z = np.unique(np.concatenate([np.r_[_graded(a, m, first), _graded(b, m, first)] for a, m, b in halves]).round(9))
    levels = np.unique(np.concatenate([[0.0], radii]))
    r = np.concatenate(
        [np.r_[_graded(b, (a + b) / 2, first), _graded(a, (a + b) / 2, first)] for a, b in pairwise(levels)]
    )
    mesh = MeshQuad.init_tensor(z, np.unique(r.round(9)))
    middle = mesh.p[:, mesh.t].mean(axis=1)
    radius = radii[np.clip(np.searchsorted(edges, middle[0]) - 1, 0, len(radii) - 1)]
    mesh = mesh.remove_elements(np.flatnonzero(middle[1] > radius))
    mesh = mesh.with_boundaries({"outlet": lambda x: x[0] > edges[-1] - 1e-9})
    return _modes(mesh, c, modes)


def cone_inertance(ratio: float, slope: float, along: int = 24, across: int = 24):
    """What potential flow through a cone between straight tubes adds to the integral of dx/area, in narrow radii.

    The cone widens from radius 1 to `ratio` by `slope` per length.
    """
    length, before, after = (ratio - 1) / slope, 3.0, 3.0 * ratio
    first = length / along
    z = np.unique(
        np.r_[_graded(0, -before, first), np.linspace(0, length, along), _graded(length, length + after, first)]
    )

    def shape(s, t):
        axial = s * (before + length + after) - before
        return axial, t * np.interp(axial, (0, length), (1, ratio))

    mesh = _mapped(shape, across, (z + before) / (before + length + after))
    basis = Basis(mesh, ElementQuad2())
    stiffness, ends = _stiffness.assemble(basis), [basis.get_dofs(name).all() for name in ("inlet", "outlet")]
    potential = np.zeros(basis.N)
    potential[ends[0]] = 1.0
    potential = solve(*condense(stiffness, x=potential, D=np.concatenate(ends)))
    return float(0.5 / (potential @ stiffness @ potential) - before - length / ratio - after / ratio**2)


def end_length(wall: float, pad: float | None = None, lift: float = 0.0, finest: float = 0.02, far: float = 20.0):
    """End length over the radius of a tube of radius 1 and that wall, with or without a disc over it, at low frequency.

    Potential flow from a section inside to a sphere of radius `far`, on which a small source's potential is taken
    off. `pad` and `lift` are the disc's radius and height; it is a fifth thick. Lines are graded towards every edge.
    """
    inside, thick, outer = -4.0, 0.2, 1.0 + wall
    planes = [inside, 0.0] if pad is None else [inside, 0.0, lift, lift + thick]
    circles = sorted({1.0, outer} | ({pad} if pad is not None else set()))

    def lines(edges, first, last):
        halves = [(a, (a + b) / 2, b) for a, b in pairwise(edges)]
        between = [part for a, m, b in halves for part in (_graded(a, m, finest), _graded(b, m, finest))]
        parts = [_graded(edges[0], first, finest), *between, _graded(edges[-1], last, finest)]
        return np.unique(np.concatenate(parts).round(9))

    mesh = MeshQuad.init_tensor(lines(planes, -far, far), lines(circles, 0.0, far))
    z, r = mesh.p[:, mesh.t].mean(axis=1)
    solid = (z < 0) & (r > 1) & (r < outer) | (z < inside) & (r < 1) | (np.hypot(z, r) > far)
    if pad is not None:
        solid |= (z > lift) & (z < lift + thick) & (r < pad)
    mesh = mesh.remove_elements(np.flatnonzero(solid))
    rim = mesh.boundary_facets()
    z, r = mesh.p[:, mesh.facets[:, rim]].mean(axis=1)
    outside = rim[np.hypot(z, r) > 0.8 * far]
    section = rim[(r < 1) & (np.abs(z - inside) < 1e-9)]
    basis = Basis(mesh, ElementQuad2())
    inlet, ends = basis.get_dofs(facets=section).all(), basis.get_dofs(facets=outside).all()
    potential = np.zeros(basis.N)
    potential[inlet] = 1.0
    stiffness = _stiffness.assemble(basis)
    potential = solve(*condense(stiffness, x=potential, D=np.r_[inlet, ends]))
    distance = np.hypot(*mesh.p[:, np.unique(mesh.facets[:, outside])]).mean()
    return float(0.5 / (potential @ stiffness @ potential) + inside + 0.25 / distance)
