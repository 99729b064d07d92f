r"""Interpolation of tables on uniform grids, by four-point Lagrange cubics or linearly, on floats and arrays alike.

Several quantities that share their axes are read in one pass: the index and weight arithmetic is the larger part of the
cost on the float path.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import product
from operator import mul
from typing import Any

import numpy as np

from glandwise.twofold.numeric import Array, Real, is_array


class UniformGrid:
    """Table of several quantities over one to three uniform axes."""

    def __init__(self, axes: Sequence[tuple[float, float, int]], values: Array, orders: Sequence[int]) -> None:
        """Hold ``values`` (axis 1, ..., axis n, quantity) over ``axes`` of (first, last, count), order 1 or 3 each."""
        if values.shape[:-1] != tuple(count for _, _, count in axes):
            raise ValueError("the table does not fit its axes")
        self.axes = tuple(axes)
        self.orders = tuple(orders)
        self._steps = [(last - first) / (count - 1) for first, last, count in axes]
        self._strides = [math.prod(values.shape[axis + 1 : -1]) for axis in range(len(axes))]
        self._values: Array = np.ascontiguousarray(values, dtype=np.float64)
        self._rows = self._values.reshape(-1, values.shape[-1])
        # along a line a handful of Python products is quicker than one call of NumPy
        self._line: list[list[float]] | None = self._values.T.tolist() if len(axes) == 1 else None
        self._float_axes = [
            (first, 1.0 / step, count - 1.0, order)
            for (first, _, count), step, order in zip(self.axes, self._steps, self.orders, strict=True)
        ]

    @staticmethod
    def _weights(order: int, t: Any) -> tuple[Any, ...]:
        """Lagrange weights at ``t``, counted in steps from the first of the points used."""
        if order == 1:
            return (1.0 - t, t)
        a, b, c = t - 1.0, t - 2.0, t - 3.0
        return (a * b * c / -6.0, t * b * c * 0.5, t * a * c * -0.5, t * a * b / 6.0)

    def __call__(self, *point: Real) -> tuple[Real, ...]:
        r"""Read every quantity at a point.

        .. math:: f(x) = \sum_i w_i(x)\,f_i

        Parameters
        ----------
        *point
            one coordinate per axis, float or array, held within the axis

        Returns
        -------
        tuple
            one value per quantity, of the shape of the point; ``nan`` where a coordinate is ``nan``
        """
        return self._read_array(point) if is_array(*point) else self._read_float(point)

    def _read_float(self, point: Sequence[float]) -> tuple[float, ...]:
        """Read at one point."""
        window: list[slice] = []
        weights = [1.0]
        for (first, inverse, last, order), x in zip(self._float_axes, point, strict=True):
            u = (x - first) * inverse
            if u != u:
                return (math.nan,) * self._rows.shape[1]
            u = 0.0 if u <= 0.0 else last if u >= last else u
            if order == 1:
                low = min(int(u), int(last) - 1)
                t = u - low
                weights = [w * v for w in weights for v in (1.0 - t, t)]
            else:
                low = min(max(int(u) - 1, 0), int(last) - 3)
                cubic = self._weights(3, u - low)
                weights = [w * v for w in weights for v in cubic]
            window.append(slice(low, low + order + 1))
        if self._line is not None:
            return tuple([sum(map(mul, weights, column[window[0]])) for column in self._line])
        block = self._values[tuple(window)].reshape(len(weights), -1)
        return tuple(np.dot(weights, block).tolist())

    def _read_array(self, point: Sequence[Any]) -> tuple[Array, ...]:
        """Read at many points."""
        coordinates = np.broadcast_arrays(*[np.asarray(x, dtype=np.float64) for x in point])
        base = np.zeros(coordinates[0].shape, dtype=np.intp)
        weights = []
        for (first, _, count), step, stride, order, x in zip(
            self.axes, self._steps, self._strides, self.orders, coordinates, strict=True
        ):
            u = np.clip(np.nan_to_num((x - first) / step), 0.0, count - 1.0)
            low = np.clip(u.astype(np.intp) - order // 2, 0, count - 1 - order)
            weights.append(self._weights(order, u - low))
            base += low * stride
        total = np.zeros((*base.shape, self._rows.shape[1]))
        for shifts in product(*[range(order + 1) for order in self.orders]):
            factor: Any = 1.0
            offset = 0
            for axis, shift in enumerate(shifts):
                factor = factor * weights[axis][shift]
                offset += shift * self._strides[axis]
            total += self._rows[base + offset] * np.asarray(factor)[..., None]
        total[np.isnan(sum(coordinates))] = np.nan
        return tuple(np.moveaxis(total, -1, 0))
