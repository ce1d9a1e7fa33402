"""The bottom layer: schema and dictionary, SQL models, pure computation, connections, publishing.

Nothing here imports dagster, streamlit or the layers above.
"""

import os

# Many small matrices, and metrics are fitted side by side: threads inside the linear algebra cost several times what
# they save (on two busy cores 35 s of processor against 9). Before numpy is imported; who sets them keeps them.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")
