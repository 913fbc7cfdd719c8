"""From what a camera showed to UTC; the only room that makes this step."""
