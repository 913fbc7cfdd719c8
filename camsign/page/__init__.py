"""The pages in the user's own browser. Empty until its own work begins; bare `camsign` prints the
help till then.
"""
