"""Where to sit tonight: from where he beds, his ways, the wind, the ground and your way in to each
stand's chance, whether your scent spoils it, and when to be there.
"""
