"""Brings the database up to date after something was taken in or said: right time, sun, distances,
watch, detections.
"""
