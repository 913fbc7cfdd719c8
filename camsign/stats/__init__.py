"""Intervals and estimators as pure functions, each with the source of its formula."""
