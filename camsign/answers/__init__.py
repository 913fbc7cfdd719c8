"""One question a module, with its SQL in the .sql file beside it; each returns a typed result or a
DataFrame.
"""
