"""Deployments, areas and named places: what hangs where, from when to when."""
