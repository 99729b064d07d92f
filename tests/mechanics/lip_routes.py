"""Second routes to the contact of a lip: elastic rings by finite elements, and a beam whose contact is found node by node."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from scipy.linalg import cholesky, solve_triangular
from scipy.optimize import nnls
from scipy.sparse.linalg import splu


class Lip(NamedTuple):
    """A lip and what acts on it, in SI units; lengths at the bore face, thickness normal to it."""

    d: float
    t: float
    L: float
    a: float
    i: float
    E: float
    nu: float
    p: float
    """On the outer face where positive, on the bore face up to the contact where negative."""
    F: float = 0.0
    spring_at: float = 0.0

    @property
    def clearance(self) -> float:
        """At the root."""
        return float(self.L * np.tan(self.a) - self.i)


class Found(NamedTuple):
    """What a route finds: loads per circumference of the shaft."""

    load: float
    width: float
    peak: float
    """Greatest contact pressure but for the corner of the tip."""


def _unilateral(flexibility: Any, gap: Any) -> Any:
    """Return the forces that keep gaps from closing further than zero, none of them pulling."""
    lower = cholesky(flexibility, lower=True)
    forces, _ = nnls(lower.T, -solve_triangular(lower, gap, lower=True), maxiter=50 * len(gap))
    return forces


def strip(lip: Lip, turn: float = 0.0, move: float = 0.0, parts: int = 80) -> Found:
    """Strip of straight pieces with shear on hoop springs; which of its joints touch is found, not assumed.

    ``turn`` is that of the root per moment, ``move`` that of the root towards the shaft.
    """
    step, cosine = lip.L / parts, np.cos(lip.a)
    D = lip.E * lip.t**3 * cosine / (12.0 * (1.0 - lip.nu**2))
    S = 5.0 / 6.0 * lip.E * lip.t * cosine / (2.0 * (1.0 + lip.nu))
    r = lip.d / 2.0 + lip.L * np.tan(lip.a) / 2.0 - lip.i + lip.t / 2.0
    # movement towards the shaft and turn of either joint; shear at the middle of a piece
    slide = np.array([-1.0 / step, -0.5, 1.0 / step, -0.5])
    bend = np.array([0.0, -1.0 / step, 0.0, 1.0 / step])
    piece = step * (S * np.outer(slide, slide) + D * np.outer(bend, bend))
    matrix, load = np.zeros((2 * parts + 2, 2 * parts + 2)), np.zeros(2 * parts + 2)
    shares = np.full(parts + 1, step)
    shares[[0, -1]] *= 0.5
    for at in range(parts):
        matrix[2 * at : 2 * at + 4, 2 * at : 2 * at + 4] += piece
    matrix[::2, ::2] += np.diag(lip.E * lip.t / r**2 * shares)
    x = np.linspace(0.0, lip.L, parts + 1)
    if lip.F > 0.0:
        half = min(lip.t / 2.0, lip.spring_at, lip.L - lip.spring_at)
        ends = np.clip(np.append(x - 0.5 * step, lip.L), lip.spring_at - half, lip.spring_at + half)
        load[::2] += lip.F * np.diff(ends) / (2.0 * half)
    fixed = [0] if turn > 0.0 else [0, 1]
    if turn > 0.0:
        matrix[1, 1] += 1.0 / turn
    load -= matrix[:, 0] * move
    free = np.setdiff1d(np.arange(2 * parts + 2), fixed)
    rows = np.searchsorted(free, np.arange(2, 2 * parts + 2, 2))
    inverse = np.linalg.inv(matrix[np.ix_(free, free)])
    flexibility = inverse[np.ix_(rows, rows)]
    flexibility = 0.5 * (flexibility + flexibility.T)
    spring, pushed, touch = load.copy(), np.zeros_like(load), parts
    for _ in range(20):
        # the pressure that lifts a lip ends where the contact begins
        pushed[::2] = lip.p / cosine**2 * np.where((lip.p < 0.0) & (np.arange(parts + 1) > touch), 0.0, shares)
        gap = lip.clearance - x[1:] * np.tan(lip.a) - (inverse @ (spring + pushed)[free])[rows]
        forces = _unilateral(flexibility, gap)
        active = np.flatnonzero(forces > 1e-9 * max(forces.max(), 1e-300))
        before, touch = touch, int(active[0]) + 1 if len(active) else parts
        if touch == before or lip.p >= 0.0:
            break
    if not len(active):
        return Found(0.0, 0.0, 0.0)
    laid = lip.L - x[touch]
    # what is laid down does not bend, so that its pressure counts once along the axis
    return Found((forces.sum() - max(lip.p, 0.0) * np.tan(lip.a) ** 2 * laid) * 2.0 * r / lip.d, laid, 0.0)


def solid(lip: Lip, along: int = 40, across: int = 6, heel: float = 0.0) -> Found:
    """Axisymmetric biquadratic elements, finer towards the tip; small rotations; frictionless, one-sided contact.

    The root is clamped; or it grows out of a heel of the radial section ``heel`` and as long, which the pressure squeezes
    against a smooth wall behind it and a smooth bore around it.
    """
    import skfem

    # millimetres, newtons and megapascals, in which the tolerances of the mesh library suit
    lip = Lip(*(v * u for v, u in zip(lip, (1e3, 1e3, 1e3, 1.0, 1e3, 1e-6, 1.0, 1e-6, 1e-3, 1e3), strict=True)))
    heel = 1e3 * heel
    R, slope, height = lip.d / 2.0, np.tan(lip.a), lip.t / np.cos(lip.a)
    s, y = np.linspace(0.0, 1.0, along + 1), np.linspace(0.0, 1.0, across + 1) ** 1.5
    x = lip.L * (1.0 - (1.0 - s) ** 2.0 * (0.15 + 0.85 * (1.0 - s)))
    mesh: Any = skfem.MeshQuad.init_tensor(y, x)
    up, length = mesh.p
    mesh = skfem.MeshQuad(np.array([R + lip.clearance - length * slope + up * height, length]), mesh.t)
    if heel > 0.0:
        rest = np.linspace(1.0, heel / height, 2 * across + 1)[1:]
        behind = -heel * np.linspace(1.0, 0.0, 3 * across + 1) ** 2.0
        block = skfem.MeshQuad.init_tensor(R + lip.clearance + height * np.concatenate([y, rest]), behind)
        mesh = mesh + block
    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementQuad2()), intorder=4)
    shear = lip.E / (2.0 * (1.0 + lip.nu))
    lame = 2.0 * shear * lip.nu / (1.0 - 2.0 * lip.nu)

    def strain(u: Any, r: Any) -> tuple[Any, ...]:
        return u.grad[0, 0], u[0] / r, u.grad[1, 1], u.grad[0, 1] + u.grad[1, 0]

    def energy(u: Any, v: Any, w: Any) -> Any:
        a, b = strain(u, w.x[0]), strain(v, w.x[0])
        direct = sum(m * n for m, n in zip(a[:3], b[:3], strict=True))
        return w.x[0] * (lame * sum(a[:3]) * sum(b[:3]) + 2.0 * shear * direct + shear * a[3] * b[3])

    matrix = skfem.BilinearForm(energy).assemble(basis)
    near = 1e-7 * lip.L

    def above(z: Any) -> Any:
        return z[0] - (R + lip.clearance - z[1] * slope)

    def push(where: Any, pressure: float, *outward: float) -> Any:
        """Pressure on a straight face, shared out to its nodes, which are corners and middles by turns."""
        load, direction = np.zeros(basis.N), np.array(outward) / np.hypot(*outward)
        nodes = basis.get_dofs(where).all(["u^1"])
        nodes = nodes[np.lexsort((*basis.doflocs[:, nodes],))]
        first, last = basis.doflocs[:, nodes[:-2:2]], basis.doflocs[:, nodes[2::2]]
        force = pressure * np.hypot(*(last - first))
        np.add.at(load, nodes[:-2:2], force * first[0] / 6.0)
        np.add.at(load, nodes[1::2], force * (first[0] + last[0]) / 3.0)
        np.add.at(load, nodes[2::2], force * last[0] / 6.0)
        load[nodes + 1] = -load[nodes] * direction[1]
        load[nodes] *= -direction[0]
        return load

    held = basis.get_dofs(lambda z: z[1] < near).all()
    if heel > 0.0:
        outside = R + lip.clearance + heel - near
        held = np.union1d(
            basis.get_dofs(lambda z: z[0] > outside).all(["u^1"]),
            basis.get_dofs(lambda z: z[1] < near - heel).all(["u^2"]),
        )
    free = np.setdiff1d(np.arange(basis.N), held)
    radial = np.setdiff1d(basis.get_dofs(lambda z: (above(z) < near) & (z[1] > near)).all(["u^1"]), held)
    radial = radial[np.argsort(basis.doflocs[1, radial])]
    at, gap = basis.doflocs[1, radial], basis.doflocs[0, radial] - R
    factor = splu(matrix[free][:, free].tocsc())
    rows = np.searchsorted(free, radial)
    unit = np.zeros((len(free), len(radial)))
    unit[rows, np.arange(len(radial))] = 1.0
    flexibility = factor.solve(unit)[rows]
    flexibility = 0.5 * (flexibility + flexibility.T)
    fixed = np.zeros(basis.N)
    if lip.p > 0.0:
        fixed = push(lambda z: (np.abs(above(z) - height) < near) & (z[1] > -near), lip.p, 1.0, slope)
        fixed += push(lambda z: z[1] > lip.L - near, lip.p, 0.0, 1.0)
        if heel > 0.0:
            fixed += push(lambda z: (np.abs(z[1]) < near) & (above(z) > height - near), lip.p, 0.0, 1.0)
    if lip.F > 0.0:
        outer = basis.get_dofs(lambda z: (np.abs(above(z) - height) < near) & (z[1] > -near)).all(["u^1"])
        order = outer[np.argsort(basis.doflocs[1, outer])]
        places = basis.doflocs[1, order]
        k = int(np.searchsorted(places, lip.spring_at))
        share = (lip.spring_at - places[k - 1]) / (places[k] - places[k - 1])
        fixed[order[k]] -= lip.F * R * share
        fixed[order[k - 1]] -= lip.F * R * (1.0 - share)
    touch = lip.L
    for _ in range(12):
        load = fixed
        if lip.p < 0.0:
            edge = touch
            load = fixed + push(
                lambda z, e=edge: (above(z) < near) & (z[1] < e + near) & (z[1] > -near), -lip.p, -1.0, -slope
            )
        forces = _unilateral(flexibility, gap + factor.solve(load[free])[rows])
        active = np.flatnonzero(forces > 1e-9 * max(forces.max(), 1e-300))
        moved = float(at[active[0]]) if len(active) else lip.L
        if moved == touch or lip.p >= 0.0:
            break
        touch = moved
    if not len(active):
        return Found(0.0, 0.0, 0.0)
    first = int(active[0])
    before = at[first - 1] if first else 0.0
    # the middle nodes of an edge carry two thirds of its load, so that a mean over three nodes is a pressure
    lengths = np.gradient(at)
    smooth = np.convolve(forces, np.ones(3), "same") / np.convolve(lengths, np.ones(3), "same") / R
    # the corner of the tip has no finite pressure in elastic theory
    inner = smooth[at < lip.L - 0.4 * lip.t].max()
    return Found(1e3 * forces.sum() / R, 1e-3 * (lip.L - 0.5 * (at[first] + before)), 1e6 * inner)
