"""Tone holes in a bore by finite elements in three dimensions: tests/published/tone_hole_fields.csv, undercuts.csv.

Not part of the tests: pip install gmsh, then python tests/references/generate_tone_hole.py (some minutes).

A cylinder of radius b stands on a bore of radius a; its top is t above the plane that touches the bore.  An undercut
is a cone above that plane, and a cylinder as wide as the cone's foot below it.  At low frequency pressure is a
potential (Laplace's equation).  Two problems on the quarter x > 0, y > 0 of the body:

- equal pressure at both ends of the bore, none at the chimney's top: the length of the whole branch;
- opposite pressures, so none where x = 0: the length of the bore that the hole takes away, top shut or open.

Curved quadratic tetrahedra, smaller towards the rim, where the flow is singular; the error stated is how far the
values lie from those on a mesh 1.5 times as coarse.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import gmsh
import numpy as np
from scipy.integrate import quad
from scipy.sparse import diags
from scipy.sparse.linalg import cg
from skfem import Basis, BilinearForm, ElementTetP2, FacetBasis, LinearForm, MeshTet, MeshTet2
from skfem.helpers import dot, grad

PUBLISHED = Path(__file__).parents[1] / "published"
A = 1.0
REACH = 5.0  # length of half the bore; cross modes fall like exp(-1.84 x / a)
FINE, COARSER = 0.016, 1.5
HOLES = [(0.7, 1.0), (0.7, 5.0 / 2.8), (0.5, 1.0), (0.85, 1.5)]  # b/a, t/b
UNDERCUTS = [  # b/a, t/b, radius at the bore over b, depth over t
    (0.7, 5.0 / 2.8, 1.3, 0.5),
    (0.7, 5.0 / 2.8, 1.15, 0.5),
    (0.7, 5.0 / 2.8, 1.3, 0.25),
    (0.5, 2.0, 1.3, 0.5),
    (0.5, 2.0, 1.6, 0.5),
    (0.85, 1.5, 1.1, 0.5),
]


@dataclass(frozen=True)
class Hole:
    """Radius, where it ends above the axis of the bore, radius at the bore, height of the undercut."""

    b: float
    top: float
    mouth: float
    cone: float

    def radius(self, z):
        """Of the chimney at a height above the axis of the bore."""
        return np.interp(z, (A, A + self.cone), (self.mouth, self.b))


@BilinearForm
def _stiffness(p, q, _):
    return dot(grad(p), grad(q))


@LinearForm
def _inflow(q, _):
    return 1.0 * q


def _solid(hole: Hole) -> list[tuple[int, int]]:
    """The whole body in gmsh."""
    occ = gmsh.model.occ
    bore = occ.addCylinder(0, 0, 0, REACH, 0, 0, A)
    if hole.cone == 0.0:
        chimney = [occ.addCylinder(0, 0, 0, 0, 0, hole.top, hole.b)]
    else:
        above = A + hole.cone
        chimney = [
            occ.addCylinder(0, 0, 0, 0, 0, A, hole.mouth),
            occ.addCone(0, 0, A, 0, 0, hole.cone, hole.mouth, hole.b),
            occ.addCylinder(0, 0, above, 0, 0, hole.top - above, hole.b),
        ]
    return occ.fuse([(3, bore)], [(3, piece) for piece in chimney])[0]


def _corners(hole: Hole, size: float) -> MeshTet:
    """Straight tetrahedra of the quarter, `size` at the rim (in hole radii)."""
    b = hole.mouth
    gmsh.initialize()
    gmsh.option.setNumber("General.Terminal", 0)
    occ = gmsh.model.occ
    occ.intersect(_solid(hole), [(3, occ.addBox(0, 0, -2 * A, 2 * REACH, 2 * A, 2 * A + 2 * hole.top))])
    occ.synchronize()
    angle = np.linspace(0.0, np.pi / 2.0, 60)
    rim = [(b * np.cos(s), b * np.sin(s), np.sqrt(A**2 - (b * np.sin(s)) ** 2)) for s in angle]
    points = [occ.addPoint(*place) for place in rim]
    occ.synchronize()
    field = gmsh.model.mesh.field
    field.add("Distance", 1)
    field.setNumbers(1, "PointsList", points)
    field.add("MathEval", 2)
    field.setString(2, "F", f"Min({10.0 * size}, {size * b} + {10.0 * size} * F1)")
    field.setAsBackgroundMesh(2)
    for name in ("MeshSizeExtendFromBoundary", "MeshSizeFromPoints", "MeshSizeFromCurvature"):
        gmsh.option.setNumber(f"Mesh.{name}", 0)
    gmsh.model.mesh.generate(3)
    tags, places, _ = gmsh.model.mesh.getNodes()
    _, nodes = gmsh.model.mesh.getElementsByType(4)
    gmsh.finalize()
    order = np.zeros(int(tags.max()) + 1, int)
    order[tags.astype(int)] = np.arange(len(tags))
    corners = order[nodes.astype(int)].reshape(-1, 4)
    used, corners = np.unique(corners, return_inverse=True)
    return MeshTet(np.ascontiguousarray(places.reshape(-1, 3)[used].T), np.ascontiguousarray(corners.reshape(-1, 4).T))


def _middles(flat: MeshTet, radius, axes: tuple[int, int], top: float) -> np.ndarray:
    """Numbers of the edges on the round wall of that radius (of z): those of boundary facets off all planes."""
    corners = flat.facets[:, flat.boundary_facets()]
    x, middle = flat.p[:, corners], flat.p[:, corners].mean(axis=1)
    wall = np.all(np.abs(np.hypot(*x[list(axes)]) - radius(x[2])) < 1e-6, axis=0) & np.all(middle[:2] > 1e-6, axis=0)
    wall &= (middle[0] < REACH - 1e-6) & (middle[2] < top - 1e-6)
    if axes == (0, 1):
        wall &= np.all(x[2] > 0.0, axis=0)
    a, b, c = corners[:, wall]
    count = flat.p.shape[1]
    sought = np.concatenate([np.minimum(i, j) * count + np.maximum(i, j) for i, j in ((a, b), (b, c), (a, c))])
    return np.flatnonzero(np.isin(flat.edges.min(axis=0) * count + flat.edges.max(axis=0), sought))


def mesh(hole: Hole, size: float) -> MeshTet2:
    """The quarter, the middles of its outer edges put on the round walls."""
    flat = _corners(hole, size)
    curved, many = MeshTet2.from_mesh(flat), flat.p.shape[1]
    place = curved.doflocs
    assert np.allclose(place[:, many:], flat.p[:, flat.edges].mean(axis=1))
    bore = many + _middles(flat, lambda z: A, (1, 2), hole.top)
    wall = many + _middles(flat, hole.radius, (0, 1), hole.top)
    for _ in range(30):  # by turns, for those on the rim
        place[1:, bore] *= A / np.hypot(place[1, bore], place[2, bore])
        place[:2, wall] *= hole.radius(place[2, wall]) / np.hypot(place[0, wall], place[1, wall])
    return curved


def lengths(hole: Hole, size: float) -> tuple[float, float, float]:
    """(length of the branch above the axis, series length shut, open), as length of hole of radius b."""
    body = mesh(hole, size).with_boundaries(
        {"end": lambda x: x[0] > REACH - 1e-9, "top": lambda x: x[2] > hole.top - 1e-9, "middle": lambda x: x[0] < 1e-9}
    )
    basis = Basis(body, ElementTetP2())
    end = _inflow.assemble(FacetBasis(body, ElementTetP2(), facets="end"))
    stiffness, bore, area = _stiffness.assemble(basis), np.pi * A**2, np.pi * hole.b**2

    def pressure(*zero: str) -> float:
        """Mean pressure at the end over the flow of one whole half of the bore, zero on those faces."""
        still = np.unique(np.concatenate([basis.get_dofs(name).all() for name in zero]))
        inside = np.setdiff1d(np.arange(basis.N), still)
        matrix = stiffness[inside][:, inside]
        found, late = cg(matrix, end[inside], rtol=1e-10, M=diags(1.0 / matrix.diagonal()))
        assert late == 0
        face = end.sum()
        return float(end[inside] @ found) / face / (2.0 * face)  # a quarter of the body holds half of that flow

    branch = area * (pressure("top") / 2.0 - REACH / (2.0 * bore))
    return branch, *(area * 2.0 * (pressure(*zero) - REACH / bore) for zero in (("middle",), ("middle", "top")))


def _both(hole: Hole) -> tuple[np.ndarray, float]:
    """Lengths beyond the wall in hole radii, series lengths in -b (b/a)^4; largest distance from a coarser mesh's."""
    unit = np.array([hole.b, *2 * [-hole.b * (hole.b / A) ** 4]])
    fine, coarse = ((np.array(lengths(hole, size)) - (hole.top - A, 0, 0)) / unit for size in (FINE, COARSER * FINE))
    return fine, float(np.max(np.abs(fine - coarse)))


def _matching(b: float) -> float:
    """Length of chimney whose volume lies between the tangent plane and the round bore."""
    return quad(lambda y: 2.0 * np.sqrt(b**2 - y**2) * (A - np.sqrt(A**2 - y**2)), -b, b)[0] / (np.pi * b**2)


def plain_rows() -> list[str]:
    out = []
    for b, wall in HOLES:
        found, error = _both(Hole(b, A + wall * b, b, 0.0))
        found[0] -= _matching(b) / b
        values = ",".join(f"{value:.4f}" for value in (*found, found[0] + found[1] * b**4 / 4.0))
        out.append(f"{b:.2f},{wall:.4f},{values},{error:.1e}")
        print(out[-1], flush=True)
    return out


def undercut_rows() -> list[str]:
    out = []
    for b, wall, wider, deep in UNDERCUTS:
        found, error = _both(Hole(b, A + wall * b, wider * b, deep * wall * b))
        values = ",".join(f"{value:.4f}" for value in (*found, found[0] + found[2] * b**4 / 4.0))
        out.append(f"{b:.2f},{wall:.4f},{wider:.2f},{deep:.2f},{values},{error:.1e}")
        print(out[-1], flush=True)
    return out


METHOD = "recomputed with scikit-fem 12, curved quadratic tetrahedra, meshes by gmsh 4.15, a quarter of the body"
PLAIN_HEAD = f"""\
# source: Laplace's equation in a round bore with a round chimney across it (tests/references/generate_tone_hole.py)
# obtained: {METHOD}
# units: delta = b/a; t from the plane tangent to the bore; ts from the symmetric flow, ti = ts - ta/4, shut
# units: ta columns are -t_a/(b delta^4), referred to the hole; the open column has p = 0 across the chimney's top
# note: error is the largest distance of the three from those on a mesh 1.5 times as coarse, in each one's unit
delta,t_over_b,ts_over_b,ta_closed,ta_open,ti_over_b,error
"""
UNDERCUT_HEAD = f"""\
# source: Laplace's equation in a round bore with an undercut chimney (tests/references/generate_tone_hole.py)
# obtained: {METHOD}
# note: a cone of radius wider*b in the plane tangent to the bore, b at depth_over_t of the wall; a cylinder below
# units: delta = b/a; t from the tangent plane; all lengths as length of the plain hole
# units: symmetric: whole branch beyond t over b, equal pressures; shunt = symmetric - ta/4, open: arm of the T
# units: ta columns are -t_a/(b delta^4); the open column has p = 0 across the chimney's top
# note: error is the largest distance of the three from those on a mesh 1.5 times as coarse, in each one's unit
delta,t_over_b,wider,depth_over_t,symmetric,ta_closed,ta_open,shunt,error
"""


if __name__ == "__main__":
    for name, head, rows in (("undercuts", UNDERCUT_HEAD, undercut_rows), ("tone_hole_fields", PLAIN_HEAD, plain_rows)):
        (PUBLISHED / f"{name}.csv").write_text(head + "\n".join(rows()) + "\n", encoding="utf-8")
