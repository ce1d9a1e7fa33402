"""The nightly graph: the only layer that imports dagster."""

import os

# Many small matrices: threads inside the linear algebra cost five times what they save. Before numpy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")
