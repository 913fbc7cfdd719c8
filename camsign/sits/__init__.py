"""Where to sit, on which wind. Empty until its own work begins."""
