"""The pages in the user's own browser, served on this machine only: sort pictures, look closer,
know the bucks.
"""
