"""The terminal front: a command parses its words, calls one function, and shows the result.

One file a family of commands.
"""
