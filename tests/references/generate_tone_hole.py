"""A tone hole in a bore by finite elements in three dimensions, written to tests/published/tone_hole_fields.csv.

Not part of the tests: pip install gmsh, then python tests/references/generate_tone_hole.py (some minutes).

A cylinder of radius b stands on a bore of radius a; its top is t above the plane that touches the bore.  At low
frequency pressure is a potential (Laplace's equation).  Two problems on the quarter x > 0, y > 0 of the body:

- equal pressure at both ends of the bore, none at the chimney's top: the length of the whole branch;
- opposite pressures, so none where x = 0: the length of the bore that the hole takes away, top shut or open.

Curved quadratic tetrahedra, smaller towards the rim, where the flow is singular; the error stated is how far the
values lie from those on a mesh 1.5 times as coarse.
"""

from __future__ import annotations

from pathlib import Path

import gmsh
import numpy as np
from scipy.integrate import quad
from scipy.sparse import diags
from scipy.sparse.linalg import cg
from skfem import Basis, BilinearForm, ElementTetP2, FacetBasis, LinearForm, MeshTet, MeshTet2
from skfem.helpers import dot, grad

TABLE = Path(__file__).parents[1] / "published" / "tone_hole_fields.csv"
A = 1.0
REACH = 5.0  # length of half the bore; cross modes fall like exp(-1.84 x / a)
FINE, COARSER = 0.016, 1.5
HOLES = [(0.7, 1.0), (0.7, 5.0 / 2.8), (0.5, 1.0), (0.85, 1.5)]  # b/a, t/b


@BilinearForm
def _stiffness(p, q, _):
    return dot(grad(p), grad(q))


@LinearForm
def _inflow(q, _):
    return 1.0 * q


def _corners(b: float, top: float, size: float) -> MeshTet:
    """Straight tetrahedra of the quarter, `size` at the rim (in hole radii)."""
    gmsh.initialize()
    gmsh.option.setNumber("General.Terminal", 0)
    occ = gmsh.model.occ
    bore, hole = occ.addCylinder(0, 0, 0, REACH, 0, 0, A), occ.addCylinder(0, 0, 0, 0, 0, top, b)
    body, _ = occ.fuse([(3, bore)], [(3, hole)])
    occ.intersect(body, [(3, occ.addBox(0, 0, -2 * A, 2 * REACH, 2 * A, 2 * A + 2 * top))])
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


def _middles(flat: MeshTet, radius: float, axes: tuple[int, int], top: float) -> np.ndarray:
    """Numbers of the edges on the round wall of that radius: those of boundary facets off all planes."""
    corners = flat.facets[:, flat.boundary_facets()]
    x, middle = flat.p[:, corners], flat.p[:, corners].mean(axis=1)
    wall = np.all(np.abs(np.hypot(*x[list(axes)]) - radius) < 1e-6, axis=0) & np.all(middle[:2] > 1e-6, axis=0)
    wall &= (middle[0] < REACH - 1e-6) & (middle[2] < top - 1e-6)
    if axes == (0, 1):
        wall &= np.all(x[2] > 0.0, axis=0)
    a, b, c = corners[:, wall]
    count = flat.p.shape[1]
    sought = np.concatenate([np.minimum(i, j) * count + np.maximum(i, j) for i, j in ((a, b), (b, c), (a, c))])
    return np.flatnonzero(np.isin(flat.edges.min(axis=0) * count + flat.edges.max(axis=0), sought))


def mesh(b: float, top: float, size: float) -> MeshTet2:
    """The quarter, the middles of its outer edges put on the round walls."""
    flat = _corners(b, top, size)
    curved, many = MeshTet2.from_mesh(flat), flat.p.shape[1]
    place = curved.doflocs
    assert np.allclose(place[:, many:], flat.p[:, flat.edges].mean(axis=1))
    bore, hole = many + _middles(flat, A, (1, 2), top), many + _middles(flat, b, (0, 1), top)
    for _ in range(30):  # by turns, for those on the rim
        place[1:, bore] *= A / np.hypot(place[1, bore], place[2, bore])
        place[:2, hole] *= b / np.hypot(place[0, hole], place[1, hole])
    return curved


def lengths(b: float, t: float, size: float) -> tuple[float, float, float]:
    """(t_s, -t_a shut, -t_a open), the first in hole radii, the others in b (b/a)^4, as length of hole."""
    top = A + t
    body = mesh(b, top, size).with_boundaries(
        {"end": lambda x: x[0] > REACH - 1e-9, "top": lambda x: x[2] > top - 1e-9, "middle": lambda x: x[0] < 1e-9}
    )
    basis = Basis(body, ElementTetP2())
    end = _inflow.assemble(FacetBasis(body, ElementTetP2(), facets="end"))
    stiffness, bore, hole = _stiffness.assemble(basis), np.pi * A**2, np.pi * b**2

    def pressure(*zero: str) -> float:
        """Mean pressure at the end over the flow of one whole half of the bore, zero on those faces."""
        still = np.unique(np.concatenate([basis.get_dofs(name).all() for name in zero]))
        inside = np.setdiff1d(np.arange(basis.N), still)
        matrix = stiffness[inside][:, inside]
        found, late = cg(matrix, end[inside], rtol=1e-10, M=diags(1.0 / matrix.diagonal()))
        assert late == 0
        area = end.sum()
        return float(end[inside] @ found) / area / (2.0 * area)  # a quarter of the body holds half of that flow

    branch = hole * (pressure("top") / 2.0 - REACH / (2.0 * bore))
    matching = quad(lambda y: 2.0 * np.sqrt(b**2 - y**2) * (A - np.sqrt(A**2 - y**2)), -b, b)[0] / hole
    series = [hole * 2.0 * (pressure(*zero) - REACH / bore) for zero in (("middle",), ("middle", "top"))]
    return (branch - t - matching) / b, *(-one / b / (b / A) ** 4 for one in series)


def rows() -> list[str]:
    out = []
    for ratio, wall in HOLES:
        fine, coarse = (np.array(lengths(ratio * A, wall * ratio * A, size)) for size in (FINE, COARSER * FINE))
        values = ",".join(f"{value:.4f}" for value in fine)
        inner = fine[0] + fine[1] * ratio**4 / 4.0
        out.append(f"{ratio:.2f},{wall:.4f},{values},{inner:.4f},{np.max(np.abs(fine - coarse)):.1e}")
        print(out[-1], flush=True)
    return out


HEAD = """\
# source: Laplace's equation in a round bore with a round chimney across it (tests/references/generate_tone_hole.py)
# obtained: recomputed with scikit-fem 12, curved quadratic tetrahedra, meshes by gmsh 4.15, a quarter of the body
# units: delta = b/a; t from the plane tangent to the bore; ts from the symmetric flow, ti = ts - ta/4, shut
# units: ta columns are -t_a/(b delta^4), referred to the hole; the open column has p = 0 across the chimney's top
# note: error is the largest distance of the three from those on a mesh 1.5 times as coarse, in each one's unit
delta,t_over_b,ts_over_b,ta_closed,ta_open,ti_over_b,error
"""


if __name__ == "__main__":
    TABLE.write_text(HEAD + "\n".join(rows()) + "\n", encoding="utf-8")
