"""One memory card: which files it holds, whose it is, and one verified copy of each picture."""
