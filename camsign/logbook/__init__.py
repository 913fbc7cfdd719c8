"""The folder that holds everything: settings, journal, replay of lines, database schema, lock,
durable placing of files, and the records that all rooms share.
"""
