"""The linear algebra agrees with plain formulas and does not depend on the number of BLAS threads."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from optimiser.surrogate.triangular import Array, NotPositiveDefinite, cholesky, gram, invert_lower, lower_times, times

SIZES = (1, 5, 30, 48, 49, 63, 97, 150)

DIGEST = """
import hashlib
import numpy as np
from optimiser.surrogate.triangular import cholesky, invert_lower, times
rng = np.random.default_rng(0)
digest = hashlib.sha256()
for size in (5, 17, 30, 47, 48, 49, 64, 100, 200):
    points = rng.uniform(size=(size, 3))
    matrix = np.exp(-((points[:, None] - points) ** 2).sum(axis=2)) + 0.1 * np.eye(size)
    lower = cholesky(matrix)
    inverse = invert_lower(lower)
    for array in (lower, inverse, times(inverse, rng.normal(size=(size, 333))), times(inverse.T.copy(), inverse)):
        digest.update(np.ascontiguousarray(array).tobytes())
print(digest.hexdigest())
"""


def _covariance(size: int) -> Array:
    points = np.random.default_rng(size).normal(size=(size, 4))
    return np.asarray(np.exp(-0.5 * ((points[:, None] - points) ** 2).sum(axis=2)) + 0.01 * np.eye(size))


@pytest.mark.parametrize("size", SIZES)
def test_factor_and_inverse_agree_with_numpy(size: int) -> None:
    matrix = _covariance(size)
    lower = cholesky(matrix)
    np.testing.assert_allclose(lower, np.linalg.cholesky(matrix), atol=1e-10)
    np.testing.assert_allclose(invert_lower(lower) @ lower, np.eye(size), atol=1e-9)


@pytest.mark.parametrize("shape", [(1, 1, 1), (48, 48, 96), (49, 97, 200), (130, 60, 5)])
def test_product_agrees_with_numpy(shape: tuple[int, int, int]) -> None:
    rng = np.random.default_rng(0)
    left, right = rng.normal(size=shape[:2]), rng.normal(size=shape[1:])
    np.testing.assert_allclose(times(left, right), left @ right, atol=1e-11)


@pytest.mark.parametrize("size", [2, 80])
def test_indefinite_matrix_is_refused(size: int) -> None:
    matrix = np.eye(size)
    matrix[-1, -1] = -1.0
    with pytest.raises(NotPositiveDefinite):
        cholesky(matrix)


def test_bits_do_not_depend_on_thread_count() -> None:
    digests = set()
    for threads in ("1", "2"):
        environment = {**os.environ, "OPENBLAS_NUM_THREADS": threads, "OMP_NUM_THREADS": threads}
        done = subprocess.run(
            [sys.executable, "-c", DIGEST],
            env=environment,
            cwd=Path(__file__).parents[2],
            capture_output=True,
            text=True,
            check=True,
        )
        digests.add(done.stdout)
    assert len(digests) == 1


@pytest.mark.parametrize("size", SIZES)
def test_what_is_known_to_be_zero_is_left_out_without_changing_a_bit(size: int) -> None:
    inverse = invert_lower(cholesky(_covariance(size)))
    right = np.random.default_rng(1).normal(size=(size, 101))
    assert np.array_equal(lower_times(inverse, right), times(inverse, right))
    assert np.array_equal(gram(inverse), times(inverse.T.copy(), inverse))
