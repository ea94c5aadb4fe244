"""The store: one SQLite file per site, written by the watcher alone, read by everybody of its group.

open_writer (writer.py), open_reader (reader.py) and open_feed (feed.py) are the three doors.
"""
