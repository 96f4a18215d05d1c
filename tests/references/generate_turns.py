"""A bend and a bridge by finite elements in three dimensions: tables in tests/published/.

Not part of the tests: pip install gmsh, then python tests/references/generate_turns.py (some minutes).

bend_joint.csv, bridge_sweep.csv: at low frequency pressure is a potential (Laplace's equation), and its flow between
two planes of equal pressure is the inertance of what lies between them.

turns_helmholtz.csv: sound without losses (Helmholtz's equation).  What one end sees with the middle plane rigid, and
with no pressure on it, is the symmetric two-port between both ends.

All bores have radius 1.  Curved quadratic tetrahedra on a quarter of the body; up to three meshes of each.
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
BORE_MM, SOUND_SPEED = 3.5, 343.344
BEND_MM, BRIDGE_MM, BEFORE_MM = 10.0, 9.0, 10.0  # centre line; axes apart; planes before the passage's axis
BEND_HZ, BRIDGE_HZ = (150.0,), (150.0, 300.0, 1000.0)
ALONG = ((0, 1), (1, 2), (0, 2), (0, 3), (2, 3), (1, 3))  # gmsh's order of the middles of a tetrahedron's edges


@BilinearForm
def _stiffness(p, q, _):
    return dot(grad(p), grad(q))


@BilinearForm
def _mass(p, q, _):
    return p * q


def _held(matrix, high, low):
    """Values where `matrix` balances: 1 at the nodes `high`, 0 at `low`."""
    values, inside = high.astype(float), ~(high | low)
    part = matrix[inside][:, inside]
    values[inside], late = cg(
        part, -(matrix @ values)[inside], rtol=1e-11, M=diags(1.0 / part.diagonal()), maxiter=20000
    )
    assert late == 0
    return values


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

    `one` and `none` pick the nodes of the end plane and of the middle one; the body is a quarter: half of half.
    """
    basis = Basis(body, ElementTetP2(), intorder=4)
    stiffness = _stiffness.assemble(basis).tocsr()
    pressure = _held(stiffness, one(body.doflocs), none(body.doflocs))
    return np.pi / (2.0 * pressure @ stiffness @ pressure), 2.0 * float(np.sum(basis.dx)) / np.pi


def _sound(body: MeshTet2, one, none, straight: float, wave_numbers) -> list[tuple[float, float]]:
    """(length by the phase, impedance over that of the bore) of both halves, `straight` of bore taken off each end."""
    basis, found = Basis(body, ElementTetP2(), intorder=4), []
    stiffness, mass = _stiffness.assemble(basis).tocsr(), _mass.assemble(basis).tocsr()
    high, low = one(body.doflocs), none(body.doflocs)
    for k in wave_numbers:
        matrix, seen = stiffness - k**2 * mass, []
        for silent in (np.zeros_like(low), low):
            pressure = _held(matrix, high, silent)
            slope = -2.0 / np.pi * float(pressure @ matrix @ pressure) / k  # of the pressure, inwards, over k
            cos, sin = np.cos(k * straight), np.sin(k * straight)
            seen.append((slope * cos - sin) / (cos + slope * sin))
        rigid, open_ = seen
        found.append((2.0 * np.arctan(np.sqrt(-rigid / open_)) / k, 1.0 / np.sqrt(-rigid * open_)))
    return found


def _begin():
    gmsh.initialize()
    gmsh.option.setNumber("General.Terminal", 0)
    return gmsh.model.occ


def bent(curvature: float, size: float):
    """Half a bend of 180 degrees with its straight leg: mesh, nodes of its end, nodes of its middle."""
    occ, radius = _begin(), 1.0 / curvature
    half = occ.intersect([(2, occ.addDisk(radius, 0, 0, 1, 1))], [(2, occ.addRectangle(radius - 2, 0, 0, 4, 2))])[0]
    occ.synchronize()
    pieces = occ.revolve(half, 0, 0, 0, 0, 1, 0, np.pi / 2), occ.extrude(half, 0, 0, LEG)
    occ.fragment(*([piece for piece in made if piece[0] == 3] for made in pieces))
    occ.synchronize()
    gmsh.option.setNumber("Mesh.MeshSizeMax", size)
    gmsh.option.setNumber("Mesh.MeshSizeMin", 0.8 * size)
    gmsh.model.mesh.generate(3)
    return _curved(), lambda x: np.abs(x[2] - LEG) < 1e-9, lambda x: (np.abs(x[0]) < 1e-9) & (x[2] < -1e-9)


def joint(curvature: float, size: float) -> float:
    """Length that one joint of a straight tube and a bend of 180 degrees adds."""
    whole, radius = _between(*bent(curvature, size))[0], 1.0 / curvature
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


def bridged(spacing: float, size: float):
    """Half a bridge with its straight leg: mesh, nodes of its end, nodes of its middle."""
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
    return _curved(), lambda x: np.abs(x[2] + 1 + LEG) < 1e-9, lambda x: np.abs(x[0] - spacing / 2) < 1e-9


def bridge(spacing: float, size: float) -> tuple[float, float]:
    """Lengths of inertance and volume between the planes a radius before the passage: half of it, mirrored."""
    half, volume = _between(*bridged(spacing, size))
    return 2.0 * (half - LEG), 2.0 * (volume - LEG)


def _beyond(finer, finest):
    """What halving the elements at the sharp edges again and again would come to."""
    return finest + (finest - finer) / (2.0**ORDER - 1.0)


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
        values = ",".join(f"{value:.5f}" for value in (*lengths, _beyond(*lengths[1:]), volumes[2]))
        out.append(f"{spacing:g},{values},{int(spacing in FITTED)}")
        print(out[-1], flush=True)
    return out


def sounds() -> list[str]:
    """Rows of a bend on its finest mesh and of a bridge extrapolated as its inertance is, to digits that hold."""
    bodies = {
        "bend": (lambda size: bent(BORE_MM / BEND_MM, size), BEND_SIZES, LEG, BEND_HZ),
        "bridge": (
            lambda size: bridged(BRIDGE_MM / BORE_MM, size),
            EDGE_SIZES,
            LEG + 1 - BEFORE_MM / BORE_MM,
            BRIDGE_HZ,
        ),
    }
    out = []
    for what, (made, sizes, straight, hz) in bodies.items():
        waves = 2e-3 * np.pi * np.array(hz) * BORE_MM / SOUND_SPEED
        finest = [np.array(_sound(*made(size), straight, waves)) * (BORE_MM, 1.0) for size in sizes[1:]]
        values, digits = (finest[1], 4) if what == "bend" else (_beyond(*finest), 3)
        for at, (length, ratio) in zip(hz, values, strict=True):
            out.append(f"{what},{at:g},{length:.{digits}f},{ratio:.{digits + 1}f}")
            print(out[-1], flush=True)
    return out


if __name__ == "__main__":
    for name, rows in (("bend_joint", joints), ("bridge_sweep", bridges), ("turns_helmholtz", sounds)):
        table = PUBLISHED / f"{name}.csv"
        lines = table.read_text(encoding="utf-8").splitlines()
        head = lines[: sum(line.startswith("#") for line in lines) + 1]
        table.write_text("\n".join([*head, *rows()]) + "\n", encoding="utf-8")
