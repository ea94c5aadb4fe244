"""The store: one SQLite file per site, written by the watcher alone, read by everybody; and the inbox beside it.

open_writer (writer.py), open_reader (reader.py), open_feed (feed.py) and open_inbox (inbox.py) are the four doors.
"""
