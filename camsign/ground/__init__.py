"""The shape of the ground, as pure functions of a grid of heights: slope and which way it faces,
light and shade, the horizon seen from a place, who sees whom, and where cold air drains to.
"""
