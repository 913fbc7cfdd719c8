"""How air carries scent, as pure functions of wind, sun and cloud: how steady the air is, how wide
the wind swings, and the chance that scent let go here is carried over there.
"""
