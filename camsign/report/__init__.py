"""Maps, charts and pages from typed results; only `gathered` asks the questions behind a page."""
