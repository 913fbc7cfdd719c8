"""Cards in: from a folder of pictures to a card that stands in the logbook, with its summary."""
