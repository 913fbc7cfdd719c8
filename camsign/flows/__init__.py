"""Work that passes through several rooms in order. The three flows do not know each other."""
