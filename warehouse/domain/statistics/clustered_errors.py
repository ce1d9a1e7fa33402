"""Errors of a weighted fit by clusters (students), adjusted for the few: CR2, all clusters at once.

Not here: the fit itself.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SERIES_UP_TO = 0.25
"""Clusters with a larger share of the fit's leverage are adjusted by their own eigenvalues."""
SERIES_ERROR = 1e-10
SMALLEST = 1e-3
"""Eigenvalues of I - H below this count as this: a cluster that alone carries a term has no error of its own."""


def clustered(
    x: Floats, weight: Floats, residual: Floats, cluster: Ints, inverse: Floats, rows: Floats
) -> tuple[Floats, Floats]:
    """CR2 variance by cluster and effective degrees of freedom of linear combinations of the coefficients.

    Parameters
    ----------
    x : (n, p). weight, residual : (n,). cluster : (n,) whole numbers from 0. inverse : (p, p) of X'WX.
    rows : (m, p) combinations.

    Returns
    -------
    variance, freedom : (m,) each; freedom (sum q)^2 / sum q^2 - 1, q a cluster's share of the information.

    Notes
    -----
    Bell & McCaffrey (2002), Survey Methodology 28:169: residuals of a cluster times (I - H_ss)^(-1/2).
    """
    root, clusters = np.sqrt(weight), int(cluster.max()) + 1
    xw, uw = x * root[:, None], residual * root
    adjusted = _adjusted(xw, uw, inverse, cluster, clusters)
    scores = _by_cluster(xw * adjusted[:, None], cluster, clusters)
    variance = ((scores @ rows.T) ** 2).sum(axis=0)
    q = _by_cluster((xw @ rows.T) ** 2, cluster, clusters)
    return variance, q.sum(axis=0) ** 2 / np.maximum((q**2).sum(axis=0), 1e-300) - 1


def _by_cluster(values: Floats, cluster: Ints, clusters: int) -> Floats:
    from scipy import sparse

    members = sparse.csr_matrix((np.ones(cluster.size), (cluster, np.arange(cluster.size))), (clusters, cluster.size))
    return np.asarray(members @ values)


def _adjusted(xw: Floats, uw: Floats, inverse: Floats, cluster: Ints, clusters: int) -> Floats:
    """(I - H_ss)^(-1/2) u: by its power series 1 + H/2 + 3 H^2/8 + ..., whose terms need no matrix by cluster."""
    half = xw @ inverse
    # A cluster's trace is no less than its largest eigenvalue.
    trace = np.bincount(cluster, (half * xw).sum(axis=1), clusters)
    heavy = trace > SERIES_UP_TO
    largest = float(trace[~heavy].max(initial=0.0))
    out, term, factor, step = uw.copy(), np.where(heavy[cluster], 0.0, uw), 1.0, 1
    while factor * largest**step > SERIES_ERROR:
        factor *= (2 * step - 1) / (2 * step)
        term = (half * _by_cluster(xw * term[:, None], cluster, clusters)[cluster]).sum(axis=1)
        out += factor * term
        step += 1
    order = np.argsort(cluster, kind="stable")
    ends = np.cumsum(np.bincount(cluster, minlength=clusters))
    for one in np.flatnonzero(heavy):
        mine = order[ends[one - 1] if one else 0 : ends[one]]
        values, vectors = np.linalg.eigh(np.eye(mine.size) - half[mine] @ xw[mine].T)
        out[mine] = vectors @ ((vectors.T @ uw[mine]) / np.sqrt(np.maximum(values, SMALLEST)))
    return out
