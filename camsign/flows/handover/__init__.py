"""What leaves the logbook: files for handhelds, maps, spreadsheets, and a standard data package."""
