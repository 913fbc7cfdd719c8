"""Work that passes through several rooms in order. The flows do not know each other."""
