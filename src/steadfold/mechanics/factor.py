"""One factorisation of a symmetric positive matrix, used for everything: statics, contact, buckling,
modes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse import linalg

from .fronts import Fronts, NotPositive, planned
from .parts import FloatArray

COLUMNS = 48
"""Right-hand sides solved at a time; more does not help, less does not use the cache."""

LARGE = 8000
"""Freedoms from which fronts are quicker than SuperLU."""


class Singular(ArithmeticError):
    """A pivot vanished while factoring."""


@dataclass(frozen=True, eq=False)
class Factor:
    """A symmetric positive definite sparse matrix and its factors, scaled to a unit diagonal.

    `solve` adds one step of iterative refinement; only columns that are refined later go without. places (n, 3): where
    each freedom is, if known. A large matrix whose places are known and that is positive definite to rounding is
    factored in fronts, any other by SuperLU.
    """

    matrix: sparse.csc_matrix
    scale: FloatArray
    factors: Fronts | linalg.SuperLU | None
    places: FloatArray | None = None

    @classmethod
    def of(cls, matrix: sparse.csc_matrix, places: FloatArray | None = None, like: Factor | None = None) -> Factor:
        """Factor a matrix. Raises Singular where a pivot or a diagonal entry is zero or less, or not a
        number.

        like: a factor of a matrix with the same freedoms, whose places are taken, and the order of its elimination where
        the pattern is the same too.
        """
        diagonal = matrix.diagonal()
        if not (diagonal > 0).all():
            raise Singular("a freedom has no stiffness")
        scale = 1.0 / np.sqrt(diagonal)
        if like is not None:
            places = like.places
        if not len(scale):
            return cls(matrix, scale, None, places)
        if not matrix.has_sorted_indices:  # SuperLU would sort the indices, which the matrix shares with the scaled one
            matrix = matrix.sorted_indices()
        data = matrix.data * scale[matrix.indices] * np.repeat(scale, np.diff(matrix.indptr))
        if places is not None and len(scale) >= LARGE:
            plan = like.factors.plan if like is not None and isinstance(like.factors, Fronts) else None
            if plan is None or not plan.fits(matrix):
                plan = planned(matrix, places)
            try:
                return cls(matrix, scale, Fronts.of(plan, data), places)
            except NotPositive:
                pass  # by rounding, or truly: the other can do without
        scaled = sparse.csc_matrix((data, matrix.indices, matrix.indptr), shape=matrix.shape)
        try:
            factors = linalg.splu(scaled, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
                                  options={"SymmetricMode": True, "Equil": False})
        except RuntimeError as error:
            raise Singular(str(error)) from error
        return cls(matrix, scale, factors, places)

    def _raw(self, right: FloatArray) -> FloatArray:
        if self.factors is None:
            return np.zeros_like(right)
        scale = self.scale if right.ndim == 1 else self.scale[:, None]
        return np.asarray(self.factors.solve(np.asfortranarray(right * scale)) * scale)

    def solve(self, right: FloatArray, *, refine: bool = True) -> FloatArray:
        """Solution (n,) or (n, k) for right-hand sides of the same shape, refined once unless told not to."""
        if right.ndim == 2 and right.shape[1] > COLUMNS:
            out = np.empty(right.shape, order="F")
            for start in range(0, right.shape[1], COLUMNS):
                part = slice(start, start + COLUMNS)
                out[:, part] = self.solve(right[:, part], refine=refine)
            return out
        first = self._raw(right)
        if not refine:
            return first
        return first + self._raw(right - self.matrix @ first)

    def softest(self, steps: int = 3) -> tuple[float, FloatArray]:
        """Estimate of the smallest eigenvalue of the scaled matrix, and its vector (n,) in true units."""
        vector = np.random.default_rng(20240229).normal(size=len(self.scale))
        value = 1.0
        for _ in range(steps):
            size = np.linalg.norm(vector)
            if not np.isfinite(size) or size == 0 or self.factors is None:
                break
            vector = vector / size
            answer = self.factors.solve(vector)
            value = 1.0 / max(float(np.linalg.norm(answer)), 1e-300)
            vector = answer
        return value, vector * self.scale

    def operator(self) -> linalg.LinearOperator:
        """The inverse as an operator, for eigenvalue searches (unrefined; the search corrects itself)."""
        return linalg.LinearOperator(self.matrix.shape, matvec=lambda x: self._raw(np.asarray(x).reshape(-1)),
                                     dtype=np.float64)
