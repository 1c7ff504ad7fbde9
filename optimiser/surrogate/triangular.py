"""Cholesky factors, their inverses and products that give the same bits at any number of BLAS threads.

Threaded linear algebra splits its sums according to the threads it gets. Every call made here is too small to be
split, so larger problems are built from small blocks. A test compares the bits in processes with other thread counts.
"""

from collections.abc import Callable
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack

Array = NDArray[np.float64]

BLOCK: Final = 48
"""Rows handled at once; OpenBLAS splits a Cholesky factorisation from 64 rows on (read in its source)."""

CHUNK: Final = 96
"""Columns handled at once; OpenBLAS splits products of more than 262144 multiplications (read in its source)."""


class NotPositiveDefinite(ArithmeticError):
    """A covariance matrix without a Cholesky factor."""


def times(left: Array, right: Array) -> Array:
    """The product of (n, k) and (k, m)."""
    return _times(left, right, lambda _i, _j: (0, len(right)))


def lower_times(lower: Array, right: Array) -> Array:
    """The product of a lower triangular matrix (n, n) and (n, m)."""
    return _times(lower, right, lambda i, _j: (0, min(i + BLOCK, len(lower))))


def gram(lower: Array) -> Array:
    """L' L of a lower triangular matrix, shape (n, n)."""
    return _times(lower.T.copy(), lower, lambda i, j: (max(i, j), len(lower)))


def _times(left: Array, right: Array, inner: Callable[[int, int], tuple[int, int]]) -> Array:
    """The product, block by block; `inner` says for a block's row and column where its sums begin and end."""
    rows, columns = len(left), right.shape[1]
    product = np.zeros((rows, columns))
    for i in range(0, rows, BLOCK):
        for j in range(0, columns, CHUNK):
            part = product[i : i + BLOCK, j : j + CHUNK]
            for k in range(*inner(i, j), BLOCK):
                part += left[i : i + BLOCK, k : k + BLOCK] @ right[k : k + BLOCK, j : j + CHUNK]
    return product


def cholesky(matrix: Array) -> Array:
    """Lower factor L with L L' = matrix, shape (n, n).

    Raises:
        NotPositiveDefinite: there is no such factor.
    """
    size = len(matrix)
    if size <= BLOCK:
        return _small_cholesky(matrix)
    lower = np.tril(matrix)
    for start in range(0, size, BLOCK):
        end = min(start + BLOCK, size)
        corner = _small_cholesky(lower[start:end, start:end])
        lower[start:end, start:end] = corner
        lower[end:, start:end] = times(lower[end:, start:end], _small_inverse(corner).T)
        below = lower[end:, start:end]
        lower[end:, end:] -= times(below, below.T.copy())
    return np.tril(lower)


def invert_lower(lower: Array) -> Array:
    """The inverse of a lower triangular matrix, shape (n, n)."""
    size = len(lower)
    if size <= BLOCK:
        return _small_inverse(lower)
    inverse = np.zeros_like(lower)
    for start in range(0, size, BLOCK):
        rows = slice(start, min(start + BLOCK, size))
        corner = _small_inverse(lower[rows, rows])
        inverse[rows, rows] = corner
        inverse[rows, :start] = -times(corner, _times(lower[rows, :start], inverse[:start, :start], _of_lower(start)))
    return inverse


def _of_lower(size: int) -> Callable[[int, int], tuple[int, int]]:
    """Where the sums of a product with a lower triangular matrix on the right begin and end."""
    return lambda _i, j: (j, size)


def _small_cholesky(matrix: Array) -> Array:
    factor, fault = lapack.dpotrf(matrix, lower=1, clean=1)
    if fault != 0 or not np.isfinite(factor).all():
        raise NotPositiveDefinite("the covariance matrix has no Cholesky factor")
    return cast(Array, factor)


def _small_inverse(lower: Array) -> Array:
    inverse, _ = lapack.dtrtri(lower, lower=1)
    return cast(Array, inverse)
