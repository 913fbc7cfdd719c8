"""Maps and charts from typed results; nothing here asks the database."""
