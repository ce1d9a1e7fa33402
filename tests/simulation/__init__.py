"""Simulated academies with known truth: does the evidence engine find it, and does it say how surely?

Nothing here is imported by the product, and the generator knows nothing of the estimator. A simulation proves that the
computation does what it claims under the conditions drawn; it proves nothing about real golfers.
"""
