"""Waypoints, tables and polygons in: from a handheld's or phone's file to journal lines."""
