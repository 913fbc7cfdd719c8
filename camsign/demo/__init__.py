"""The made-up property and season: draws its pictures, writes its cards, and walks the whole job
with the functions a user's commands call.
"""
