"""Boundary of a region of which only membership is known: traced on a grid, its vertices solved by bisection.

The mask of a grid tells which edges of the grid the boundary crosses (marching squares). Each crossing is bisected, all
at once; between two crossings one more vertex is solved, and where the sides belong to different criteria, the corner
in which both are met. Every added vertex stays in its cell, so the polygon holds exactly the grid points inside.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Any, NamedTuple, TypeAlias

import numpy as np

Edge: TypeAlias = tuple[str, int, int]
"""``h`` to the right of a grid point or ``v`` above it, with row and column of the point in the padded grid."""

BISECTIONS = 32
"""Halvings of an edge of the grid: far below what a plot or a rounded number can show."""
WIDE = 6
"""Halvings that the first round does where a range is wide: it may leave the region more than once."""
REFINEMENTS = 6
"""Rounds in which a piece of the boundary within one cell is halved at most."""
FLAT = 0.01
"""Distance of a solved vertex from its chord below which the piece counts as straight enough, in cells [-]."""
NEWTON_STEPS = 12
CORNER_TOLERANCE = 1e-6
"""Greatest distance of the utilizations from 1, as a logarithm, at which a corner counts as found [-]."""
STRAIGHT = 1e-6
"""Distance of a vertex from the line of its neighbours below which it is left out, in cells [-]."""


class Point(NamedTuple):
    """Points of the plane: whether they are inside, and what is the matter where they are not."""

    inside: Any
    blame: Any
    """Position of the criterion to blame; of the governing one inside."""


class Polygon(NamedTuple):
    """A closed polygon with the region on its left; side ``i`` runs from vertex ``i`` to the next."""

    points: Any
    sides: Any
    """Position of the criterion that fails beyond each side; -1 on the edge of the grid."""


def bisect(
    evaluate: Callable[[Any], Point], inside: Any, outside: Any, halvings: int, at_first: int = 1
) -> tuple[Any, Any]:
    """Narrow ranges between a point inside and one outside, all at once; rows are points.

    Return the last point inside of each range and the criterion to blame beyond it. The first round does ``at_first`` halvings
    and looks at all points between: where a range leaves the region more than once, the first time counts that is told by so many.
    """
    inside, outside = np.array(inside, dtype=float), np.array(outside, dtype=float)
    n = len(inside)
    if not n:
        return inside, np.zeros(0, dtype=int)
    blame = np.array(evaluate(outside).blame)
    each = np.arange(n)
    for bits in (at_first, *(1 for _ in range(halvings - at_first))):
        parts = 2**bits
        shares = (np.arange(1, parts) / parts).reshape(-1, *(1,) * inside.ndim)
        between = inside + shares * (outside - inside)
        found = evaluate(between.reshape(-1, *inside.shape[1:]))
        within, guilty = found.inside.reshape(-1, n), found.blame.reshape(-1, n)
        # position of the first point outside, one beyond the last where there is none
        first = np.where(within.all(axis=0), parts - 1, np.argmin(within, axis=0))
        stations = np.concatenate([inside[None], between, outside[None]])
        blame = np.where(first < parts - 1, guilty[np.minimum(first, parts - 2), each], blame)
        inside, outside = stations[first, each], stations[first + 1, each]
    return inside, blame


class _Segment(NamedTuple):
    """Piece of the boundary within one cell of the padded grid."""

    start: Edge
    end: Edge
    row: int
    column: int


def _segments(mask: Any) -> list[_Segment]:
    """Return the pieces of the boundary of a padded mask, each with the inside on its left."""
    j, i = np.nonzero(
        (mask[:-1, :-1] != mask[:-1, 1:]) | (mask[:-1, :-1] != mask[1:, :-1]) | (mask[:-1, :-1] != mask[1:, 1:])
    )
    found = []
    for row, column in zip(j.tolist(), i.tolist(), strict=True):
        corners = [mask[row, column], mask[row, column + 1], mask[row + 1, column + 1], mask[row + 1, column]]
        edges: list[Edge] = [("h", row, column), ("v", row, column + 1), ("h", row + 1, column), ("v", row, column)]
        # going round counter-clockwise: a piece leaves by an edge from inside to outside and ends at the last edge
        # before it from outside to inside, so that inside corners that touch crosswise stay apart
        for k in range(4):
            if corners[k] and not corners[(k + 1) % 4]:
                back = next(m for m in range(1, 4) if not corners[(k - m) % 4] and corners[(k - m + 1) % 4])
                found.append(_Segment(edges[k], edges[(k - back) % 4], row, column))
    return found


def _loops(segments: list[_Segment]) -> list[list[_Segment]]:
    following = {segment.start: segment for segment in segments}
    loops = []
    while following:
        _, segment = following.popitem()
        loop = [segment]
        while loop[-1].end != loop[0].start:
            loop.append(following.pop(loop[-1].end))
        loops.append(loop)
    return loops


class _Grid:
    """Grid coordinates: whole numbers at the points of the grid, 0 at its first."""

    def __init__(self, x: Any, y: Any) -> None:
        self.low = np.array([x[0], y[0]])
        self.step = np.array([(x[-1] - x[0]) / (len(x) - 1), (y[-1] - y[0]) / (len(y) - 1)])
        self.top = np.array([len(x) - 1.0, len(y) - 1.0])

    def world(self, points: Any) -> Any:
        """Return coordinates on the axes."""
        return self.low + np.asarray(points, dtype=float) * self.step

    def on_grid(self, points: Any) -> Any:
        """Tell which points belong to the grid and not to its padding."""
        return ((points >= 0.0) & (points <= self.top)).all(axis=-1)


def _ends(edge: Edge, mask: Any) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the inside and the outside end of an edge in grid coordinates."""
    kind, row, column = edge
    a = (float(column - 1), float(row - 1))
    b = (a[0] + 1.0, a[1]) if kind == "h" else (a[0], a[1] + 1.0)
    return (a, b) if mask[row, column] else (b, a)


def trace(
    inside: Any, x: Any, y: Any, point: Callable[[Any], Point], utilization: Callable[[Any], Any]
) -> list[Polygon]:
    """Return the boundary of a region, largest polygon first.

    ``inside`` is the mask of the grid (rows along ``y``), ``point`` judges points (rows of x, y), ``utilization`` gives
    those of every criterion (one row each) there.
    """
    mask, grid = np.pad(inside, 1), _Grid(x, y)
    segments = _segments(mask)
    vertices = _crossings(segments, mask, grid, point)
    chains = _chains(segments, vertices, mask, grid, point, utilization)
    polygons = []
    for loop in _loops(segments):
        chain = [vertex for segment in loop for vertex in chains[segment]]
        polygon = _simplified(np.array([vertex.place for vertex in chain]), [vertex.side for vertex in chain])
        if len(polygon.points) >= 3:
            polygons.append(polygon)
    polygons.sort(key=lambda polygon: -abs(area(polygon.points)))
    return [Polygon(grid.world(polygon.points), polygon.sides) for polygon in polygons]


class _Vertex(NamedTuple):
    place: Any
    """Grid coordinates."""
    side: int
    """Criterion beyond the side that begins here; -1 on the edge of the grid."""


def _crossings(segments: list[_Segment], mask: Any, grid: _Grid, point: Callable[[Any], Point]) -> dict[Edge, _Vertex]:
    """Solve where the boundary crosses the edges of the grid; an edge into the padding is crossed at its inner end."""
    edges = list(dict.fromkeys(segment.start for segment in segments))
    ends = np.array([_ends(edge, mask) for edge in edges]).reshape(-1, 2, 2)
    crossed = grid.on_grid(ends[:, 1])
    places, blame = ends[:, 0].copy(), np.full(len(edges), -1)
    places[crossed], blame[crossed] = bisect(
        lambda points: point(grid.world(points)), ends[crossed, 0], ends[crossed, 1], BISECTIONS
    )
    return {edge: _Vertex(place, int(side)) for edge, place, side in zip(edges, places, blame, strict=True)}


def _chains(
    segments: list[_Segment],
    vertices: dict[Edge, _Vertex],
    mask: Any,
    grid: _Grid,
    point: Callable[[Any], Point],
    utilization: Callable[[Any], Any],
) -> dict[_Segment, list[_Vertex]]:
    """Return the vertices of each piece of the boundary, its end left out."""

    def judge(points: Any) -> Point:
        return point(grid.world(points))

    inner = [s for s in segments if 0 < s.row < mask.shape[0] - 2 and 0 < s.column < mask.shape[1] - 2]
    corners = np.array(
        [[(s.column - 1 + dx, s.row - 1 + dy) for dy in (0, 1) for dx in (0, 1)] for s in inner], dtype=float
    )
    within = np.array([mask[s.row : s.row + 2, s.column : s.column + 2].ravel() for s in inner], dtype=bool)
    chains = {segment: [_Vertex(vertices[segment.start].place, -1)] for segment in segments}
    if not inner:
        return chains
    ways = _refined([[vertices[s.start], vertices[s.end]] for s in inner], corners, within, judge)
    pieces = [(k, a, b) for k, way in enumerate(ways) for a, b in pairwise(way)]
    turns = [n for n, (_, a, b) in enumerate(pieces) if a.side != b.side and a.side >= 0 and b.side >= 0]
    solved = _corners([pieces[n] for n in turns], corners, within, grid, judge, utilization)
    found = dict(zip(turns, solved, strict=True))
    for segment in inner:
        chains[segment] = []
    for n, (k, a, b) in enumerate(pieces):
        chains[inner[k]].append(a)
        if (place := found.get(n)) is not None:
            chains[inner[k]].append(_Vertex(place, b.side))
    return chains


def _refined(
    ways: list[list[_Vertex]], corners: Any, within: Any, judge: Callable[[Any], Point]
) -> list[list[_Vertex]]:
    """Halve each piece of the boundary, and its halves again as long as they bend."""
    bent = [[True] for _ in ways]
    for _ in range(REFINEMENTS):
        open_pieces = [(k, n) for k, flags in enumerate(bent) for n, flag in enumerate(flags) if flag]
        if not open_pieces:
            break
        start = np.array([ways[k][n].place for k, n in open_pieces])
        end = np.array([ways[k][n + 1].place for k, n in open_pieces])
        cells = [k for k, _ in open_pieces]
        solved = _middles(start, end, corners[cells], within[cells], judge)
        for position in reversed(range(len(open_pieces))):
            k, n = open_pieces[position]
            vertex = solved.get(position)
            if vertex is None:
                bent[k][n] = False
                continue
            off = np.abs(vertex.place - 0.5 * (start[position] + end[position])).max()
            ways[k].insert(n + 1, vertex)
            bent[k][n : n + 1] = [bool(off > FLAT)] * 2
    return ways


def _middles(start: Any, end: Any, corners: Any, within: Any, judge: Callable[[Any], Point]) -> dict[int, _Vertex]:
    """Solve one vertex between both ends of each piece, from the middle of the chord towards the boundary.

    It is looked for on the way to the middle of the cell's inside corners, or of its outside ones.
    """
    chord = 0.5 * (start + end)
    share = within[..., None] / within.sum(axis=1)[:, None, None]
    inward = (corners * share).sum(axis=1)
    share = ~within[..., None] / (~within).sum(axis=1)[:, None, None]
    outward = (corners * share).sum(axis=1)
    n = len(start)
    state = judge(np.concatenate([chord, inward, outward])).inside
    middle, deep, far = state[:n], state[n : 2 * n], state[2 * n :]
    a, b = np.where(middle[:, None], chord, inward), np.where(middle[:, None], outward, chord)
    usable = np.flatnonzero(np.where(middle, ~far, deep))
    places, blame = bisect(judge, a[usable], b[usable], BISECTIONS)
    return {int(k): _Vertex(place, int(side)) for k, place, side in zip(usable, places, blame, strict=True)}


def _corners(
    pieces: list[tuple[int, _Vertex, _Vertex]],
    corners: Any,
    within: Any,
    grid: _Grid,
    judge: Callable[[Any], Point],
    utilization: Callable[[Any], Any],
) -> list[Any]:
    """Solve the corner in which two criteria meet their limits, by Newton's method; ``None`` where none is found."""
    if not pieces:
        return []
    cell = np.array([k for k, _, _ in pieces])
    pair = np.array([(a.side, b.side) for _, a, b in pieces])
    low, high = corners[cell, 0], corners[cell, 3]
    place = np.array([0.5 * (a.place + b.place) for _, a, b in pieces])
    n, each = len(pieces), np.arange(len(pieces))

    def excess(points: Any) -> Any:
        """Logarithm of the utilization of both criteria at each point."""
        table = utilization(grid.world(points))
        with np.errstate(all="ignore"):
            return np.log(np.stack([table[pair[:, 0], each], table[pair[:, 1], each]], axis=1))

    step = 0.02
    best, least = place, np.full(n, np.inf)
    for _ in range(NEWTON_STEPS):
        f = excess(place)
        size = np.where(np.isnan(f).any(axis=1), np.inf, np.abs(f).max(axis=1))
        better = size < least
        best, least = np.where(better[:, None], place, best), np.where(better, size, least)
        if (least < 1e-3 * CORNER_TOLERANCE).all():
            break
        with np.errstate(all="ignore"):
            slopes = [(excess(place + np.array(d) * step) - f) / step for d in ((1.0, 0.0), (0.0, 1.0))]
            determinant = slopes[0][:, 0] * slopes[1][:, 1] - slopes[0][:, 1] * slopes[1][:, 0]
            move = np.stack([
                (f[:, 1] * slopes[1][:, 0] - f[:, 0] * slopes[1][:, 1]) / determinant,
                (f[:, 0] * slopes[0][:, 1] - f[:, 1] * slopes[0][:, 0]) / determinant,
            ], axis=1)  # fmt: skip
        place = np.clip(place + np.where(np.isfinite(move), move, 0.0), low, high)
    share = within[cell][..., None] / within[cell].sum(axis=1)[:, None, None]
    inward = (corners[cell] * share).sum(axis=1)
    # the corner itself may lie outside by a rounding: a thousandth of the way inward must not
    belongs = judge(best + 1e-3 * (inward - best)).inside
    return [best[k] if least[k] < CORNER_TOLERANCE and belongs[k] else None for k in range(n)]


def area(points: Any) -> float:
    """Return the area of a polygon, positive where it runs counter-clockwise."""
    x, y = points[:, 0], points[:, 1]
    return float(0.5 * (x * np.roll(y, -1) - np.roll(x, -1) * y).sum())


def _simplified(points: Any, sides: list[int]) -> Polygon:
    """Leave out vertices that repeat or lie on the line of their neighbours with the same criterion on both sides."""
    kept: list[tuple[Any, int]] = []

    def redundant(before: tuple[Any, int], here: tuple[Any, int], after: Any) -> bool:
        ahead, back = after - here[0], here[0] - before[0]
        if np.abs(ahead).max() < STRAIGHT:
            return True
        if before[1] != here[1]:
            return False
        span = after - before[0]
        length = float(np.hypot(*span))
        off = abs(float(span[0] * back[1] - span[1] * back[0]))
        return length > 0.0 and off / length < STRAIGHT and float(back @ ahead) >= 0.0

    for place, side in zip(points, sides, strict=True):
        while len(kept) >= 2 and redundant(kept[-2], kept[-1], place):
            kept.pop()
        if len(kept) == 1 and np.abs(place - kept[0][0]).max() < STRAIGHT:
            kept.pop()
        kept.append((place, side))
    # the seam: the last and the first vertex have their neighbours across it
    while len(kept) > 3 and redundant(kept[-2], kept[-1], kept[0][0]):
        kept.pop()
    while len(kept) > 3 and redundant(kept[-1], kept[0], kept[1][0]):
        kept.pop(0)
    return Polygon(np.array([place for place, _ in kept]), [side for _, side in kept])
