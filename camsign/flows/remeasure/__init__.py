"""Originals in the logbook measured again: by our own measures, or by a detector of the user."""
