"""A bend and a bridge by finite elements in three dimensions: tests/published/bend_joint.csv and bridge_sweep.csv.

Not part of the tests: pip install gmsh, then python tests/references/generate_turns.py (some minutes).

At low frequency pressure is a potential (Laplace's equation), and its flow between two planes of equal pressure is
the inertance of what lies between them.  All bores have radius 1.  Curved quadratic tetrahedra on a quarter of the
body; three meshes each, their values side by side.
"""

from __future__ import annotations

from pathlib import Path

import gmsh
import numpy as np
from scipy.sparse import diags
from scipy.sparse.linalg import cg
from skfem import Basis, BilinearForm, ElementTetP2, MeshTet, MeshTet2
from skfem.helpers import dot, grad

PUBLISHED = Path(__file__).parents[1] / "published"
LEG = 3.0  # straight bore beyond; cross modes fall like exp(-1.84 x)
CURVATURES, BEND_SIZES = (0.2, 0.3, 0.35, 0.4, 0.5, 0.6), (0.3, 0.2, 0.14)
SPACINGS, EDGE_SIZES = (2.05, 2.1, 2.2, 2.3, 2.4, 2.5, 2.6, 2.8, 3.0, 3.2, 3.5, 3.8, 4.1, 4.4, 4.7), (0.04, 0.02, 0.01)
FITTED = (2.05, 2.2, 2.4, 2.6, 3.0, 3.5, 4.1, 4.7)  # what the package's formula was fitted to
COARSE, ORDER = 0.25, 1.2
ALONG = ((0, 1), (1, 2), (0, 2), (0, 3), (2, 3), (1, 3))  # gmsh's order of the middles of a tetrahedron's edges


@BilinearForm
def _stiffness(p, q, _):
    return dot(grad(p), grad(q))


def _curved() -> MeshTet2:
    """gmsh's model as a mesh of second order, the middles of edges where gmsh put them."""
    gmsh.model.mesh.setOrder(2)
    gmsh.model.mesh.optimize("HighOrder")
    tags, places, _ = gmsh.model.mesh.getNodes()
    _, nodes = gmsh.model.mesh.getElementsByType(11)
    gmsh.finalize()
    order = np.zeros(int(tags.max()) + 1, int)
    order[tags.astype(int)] = np.arange(len(tags))
    places, nodes = places.reshape(-1, 3), order[nodes.astype(int)].reshape(-1, 10)
    used, corners = np.unique(nodes[:, :4], return_inverse=True)
    corners = corners.reshape(-1, 4)
    flat = MeshTet(np.ascontiguousarray(places[used].T), np.ascontiguousarray(corners.T))
    curved, many = MeshTet2.from_mesh(flat), len(used)
    ends = np.concatenate([np.sort(corners[:, pair], axis=1) for pair in ALONG])
    edges, first = np.unique(ends @ (many, 1), return_index=True)
    here = np.sort(flat.edges, axis=0)
    at = np.searchsorted(edges, here[0] * many + here[1])
    curved.doflocs[:, many:] = places[np.concatenate(list(nodes[:, 4:].T))[first[at]]].T
    return curved


def _between(body: MeshTet2, one, none) -> tuple[float, float]:
    """(length of straight bore with the inertance of the whole body, its volume over the bore's area).

    `one` and `none` pick the nodes of the end planes; the body is a quarter: half of half.
    """
    basis = Basis(body, ElementTetP2(), intorder=4)
    stiffness = _stiffness.assemble(basis).tocsr()
    high, low = one(body.doflocs), none(body.doflocs)
    pressure, inside = high.astype(float), ~(high | low)
    matrix = stiffness[inside][:, inside]
    pressure[inside], late = cg(
        matrix, -(stiffness @ pressure)[inside], rtol=1e-11, M=diags(1.0 / matrix.diagonal()), maxiter=20000
    )
    assert late == 0
    return np.pi / (2.0 * pressure @ stiffness @ pressure), 2.0 * float(np.sum(basis.dx)) / np.pi


def _begin():
    gmsh.initialize()
    gmsh.option.setNumber("General.Terminal", 0)
    return gmsh.model.occ


def joint(curvature: float, size: float) -> float:
    """Length that one joint of a straight tube and a bend of 180 degrees adds: half a bend and its straight leg."""
    occ, radius = _begin(), 1.0 / curvature
    half = occ.intersect([(2, occ.addDisk(radius, 0, 0, 1, 1))], [(2, occ.addRectangle(radius - 2, 0, 0, 4, 2))])[0]
    occ.synchronize()
    pieces = occ.revolve(half, 0, 0, 0, 0, 1, 0, np.pi / 2), occ.extrude(half, 0, 0, LEG)
    occ.fragment(*([piece for piece in made if piece[0] == 3] for made in pieces))
    occ.synchronize()
    gmsh.option.setNumber("Mesh.MeshSizeMax", size)
    gmsh.option.setNumber("Mesh.MeshSizeMin", 0.8 * size)
    gmsh.model.mesh.generate(3)
    whole, _ = _between(
        _curved(), lambda x: np.abs(x[2] - LEG) < 1e-9, lambda x: (np.abs(x[0]) < 1e-9) & (x[2] < -1e-9)
    )
    return whole - LEG - 0.5 * np.pi * radius * 0.5 * (1.0 + np.sqrt(1.0 - curvature**2))


def _sharp_edges() -> list[int]:
    """Curves where passage and bore meet: x = |z|, inside."""
    found = []
    for _, tag in gmsh.model.getEntities(1):
        low, high = (bound[0] for bound in gmsh.model.getParametrizationBounds(1, tag))
        x, _, z = np.array(gmsh.model.getValue(1, tag, [0.5 * (low + high), 0.7 * low + 0.3 * high])).reshape(-1, 3).T
        if np.all((np.abs(x - np.abs(z)) < 1e-4) & (x > 1e-3) & (x < 0.9999)):
            found.append(tag)
    assert found
    return found


def bridge(spacing: float, size: float) -> tuple[float, float]:
    """Lengths of inertance and volume between the planes a radius before the passage: half of it, mirrored."""
    occ = _begin()
    bore, passage = occ.addCylinder(0, 0, -1 - LEG, 0, 0, 2 + LEG, 1), occ.addCylinder(0, 0, 0, spacing / 2, 0, 0, 1)
    body = occ.fuse([(3, bore)], [(3, passage)])[0]
    occ.intersect(body, [(3, occ.addBox(-2, 0, -2 - LEG, 2 + spacing / 2, 2, 4 + LEG))])
    occ.synchronize()
    field = gmsh.model.mesh.field
    field.add("Distance", 1)
    field.setNumbers(1, "CurvesList", _sharp_edges())
    field.setNumber(1, "Sampling", 200)
    field.add("MathEval", 2)
    field.setString(2, "F", f"Min({COARSE}, {size} + 0.35 * F1)")
    field.setAsBackgroundMesh(2)
    for name in ("MeshSizeExtendFromBoundary", "MeshSizeFromPoints", "MeshSizeFromCurvature"):
        gmsh.option.setNumber(f"Mesh.{name}", 0)
    gmsh.model.mesh.generate(3)
    half, volume = _between(
        _curved(), lambda x: np.abs(x[2] + 1 + LEG) < 1e-9, lambda x: np.abs(x[0] - spacing / 2) < 1e-9
    )
    return 2.0 * (half - LEG), 2.0 * (volume - LEG)


def joints() -> list[str]:
    out = []
    for curvature in CURVATURES:
        out.append(f"{curvature:g}," + ",".join(f"{joint(curvature, size):.6f}" for size in BEND_SIZES))
        print(out[-1], flush=True)
    return out


def bridges() -> list[str]:
    out = []
    for spacing in SPACINGS:
        lengths, volumes = zip(*(bridge(spacing, size) for size in EDGE_SIZES), strict=True)
        last = lengths[2] + (lengths[2] - lengths[1]) / (2.0**ORDER - 1.0)
        values = ",".join(f"{value:.5f}" for value in (*lengths, last, volumes[2]))
        out.append(f"{spacing:g},{values},{int(spacing in FITTED)}")
        print(out[-1], flush=True)
    return out


if __name__ == "__main__":
    for name, rows in (("bend_joint", joints), ("bridge_sweep", bridges)):
        table = PUBLISHED / f"{name}.csv"
        head = [line for line in table.read_text(encoding="utf-8").splitlines() if not line[0].isdigit()]
        table.write_text("\n".join([*head, *rows()]) + "\n", encoding="utf-8")
