"""The bottom layer: schema and dictionary, SQL models, pure computation, connections, publishing.

Nothing here imports dagster, streamlit or the layers above.
"""
