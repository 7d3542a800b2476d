"""An independent computation of a released packet: plane-stress finite elements, large turns and all.

Eight-node elements in total-Lagrangian form (scikit-fem), one layer a lamination, stress straight with stretch. In the
jig each lamination holds the stretch that bent it from its own natural curve, κ - κ₀ about its own middle line; glued,
it is let go and Newton's method finds the shape of least energy. Nothing here knows of neutral lines, EI or sections
that stay plane.
"""

from dataclasses import dataclass

import numpy as np
import skfem
from skfem.helpers import ddot, grad
from skfem.helpers import mul as matmul


@dataclass
class Jig:
    """A smooth line by arc length, and what lies on its left (inside) and right (outside)."""

    s: np.ndarray
    points: np.ndarray
    angle: np.ndarray
    curvature: np.ndarray

    def at(self, s, d):
        """Points at distance d to the left."""
        x, y = (np.interp(s, self.s, self.points[:, axis]) for axis in (0, 1))
        angle = np.interp(s, self.s, self.angle)
        return np.array([x - d * np.sin(angle), y + d * np.cos(angle)])


def released(jig, thickness, modulus, reference, *, kept=None, natural=None, planed=(), step=15.0):
    """Release a packet from a jig; return places (m,) and the outer face there, before and after, (m, 2) each.

    `thickness` and `modulus` run inside to outside; `reference` is the reference line's distance from the outer face,
    the jig's line being that of the reference. `kept(layer, s)` is False where a lamination is dropped (innermost only,
    so that nothing has to close up), `natural` the curvature that each lamination had before. `planed` is (inside,
    outside): depths taken off after gluing.
    """
    faces = [0.0]
    for t in thickness[::-1]:  # from the outer face inwards
        faces.append(faces[-1] + t)
    faces = np.array(faces)
    middles, e = (faces[1:] + faces[:-1]) / 2, np.asarray(modulus, dtype=float)[::-1]
    n0 = np.zeros(len(e)) if natural is None else np.asarray(natural, dtype=float)[::-1]
    levels = np.unique(np.concatenate([faces, [faces[-1] - planed[0], planed[1]] if planed else []]))
    along = np.linspace(jig.s[0], jig.s[-1], round((jig.s[-1] - jig.s[0]) / step) + 1)
    flat = skfem.MeshQuad.init_tensor(along, levels)
    centre = flat.p[:, flat.t].mean(axis=1)
    layer = np.clip(np.searchsorted(faces, centre[1]) - 1, 0, len(e) - 1)
    here = np.ones(len(layer), dtype=bool)
    if kept is not None:
        here &= np.array([kept(len(e) - 1 - k, s) for k, s in zip(layer, centre[0], strict=True)])
    if planed:
        here &= (centre[1] < faces[-1] - planed[0]) & (centre[1] > planed[1])
    flat, layer = flat.restrict(np.flatnonzero(here)), layer[here]
    flat2 = skfem.MeshQuad2.from_mesh(flat)
    # distances to the left of the reference: reference - (depth from the outer face); inside is to the left
    bent = skfem.MeshQuad2(jig.at(flat2.doflocs[0], flat2.doflocs[1] - reference), flat2.t)
    element = skfem.ElementVector(skfem.ElementQuadS2())
    basis = skfem.Basis(bent, element, intorder=4)
    flat_basis = skfem.Basis(flat2, element, intorder=4)
    s, depth = flat_basis.global_coordinates()
    angle, kappa = np.interp(s, jig.s, jig.angle), np.interp(s, jig.s, jig.curvature)
    left = middles[layer][:, None] - reference
    own = kappa / (1 - kappa * left)  # of the lamination's middle line
    bent_by = own - n0[layer][:, None]
    # loose laminations slide: none carries force along itself; under this stress law, P = E (F - R), each is bent about
    # its own middle
    stretch = 1 - bent_by * (depth - middles[layer][:, None])
    tangent = np.array([np.cos(angle), np.sin(angle)])
    normal = np.array([-np.sin(angle), np.cos(angle)])
    held = stretch * tangent[:, None] * tangent[None] + normal[:, None] * normal[None]  # F₀ of the jig
    stiff = e[layer][:, None] / stretch  # energy is for each mm² of the wood as it lay unbent: det F₀ is the stretch

    def rotation(w):
        """F, F + cof F, and the trace of the right stretch: R = (F + cof F) / tr U in the plane."""
        f = matmul(w["gradient"], held)
        both = f + cofactor(f)
        return f, both, np.sqrt(ddot(both, f))

    @skfem.BilinearForm
    def tangent_form(u, v, w):
        _, both, trace = rotation(w)
        du, dv = matmul(grad(u), held), matmul(grad(v), held)
        turned = ddot(du + cofactor(du), dv) / trace - ddot(both, du) * ddot(both, dv) / trace**3
        return stiff * (ddot(du, dv) - turned)

    @skfem.LinearForm
    def residual(v, w):
        f, both, trace = rotation(w)
        return stiff * ddot(f - both / trace, matmul(grad(v), held))

    u = basis.zeros()
    x, y = basis.doflocs
    ends = [int(np.argmin(np.hypot(x - px, y - py))) for px, py in jig.at(along[[0, -1]], faces[0] - reference).T]
    pinned = [d for d in range(len(x)) if np.hypot(x[d] - x[ends[0]], y[d] - y[ends[0]]) < 1e-9]
    rolling = [d for d in range(len(x)) if np.hypot(x[d] - x[ends[1]], y[d] - y[ends[1]]) < 1e-9]
    across = int(abs(x[ends[1]] - x[ends[0]]) > abs(y[ends[1]] - y[ends[0]]))
    fixed = np.array([*pinned, rolling[across]])
    for _ in range(12):
        g = basis.interpolate(u).grad + np.eye(2)[:, :, None, None]
        k, r = tangent_form.assemble(basis, gradient=g), residual.assemble(basis, gradient=g)
        step_u = skfem.solve(*skfem.condense(k, -r, D=fixed))
        u = u + step_u
        if np.abs(step_u).max() < 1e-7:
            break
    else:
        raise AssertionError("Newton's method did not come to rest")
    face = planed[1] if planed else 0.0
    on_face = np.isclose(flat_basis.doflocs[1], face)
    dofs = np.flatnonzero(on_face)[np.argsort(flat_basis.doflocs[0, on_face], kind="stable")].reshape(-1, 2)
    before = basis.doflocs[:, dofs[:, 0]].T
    return flat_basis.doflocs[0, dofs[:, 0]], before, before + u[np.sort(dofs, axis=1)]


def cofactor(f):
    """Of plane matrices (2, 2, ...)."""
    return np.array([[f[1, 1], -f[1, 0]], [-f[0, 1], f[0, 0]]])


def misfit(found, wanted):
    """Largest distance of points (m, 2) from their fellows after the best turn and shift [mm]."""
    f, w = found - found.mean(axis=0), wanted - wanted.mean(axis=0)
    u, _, vt = np.linalg.svd(f.T @ w)
    turn = u @ np.diag([1.0, np.sign(np.linalg.det(u @ vt))]) @ vt
    return float(np.hypot(*(f @ turn - w).T).max())
