"""The pages: the only layer that imports streamlit. Reads the published file and the notebook, computes nothing."""
