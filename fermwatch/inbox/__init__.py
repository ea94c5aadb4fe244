"""The inbox: a directory per site with one small file a request. People write it, the watcher alone takes from it.

No database: a member of the group could lay a forged journal beside one. letters.py is a file's content, sending.py
people's side, receiving.py the watcher's.
"""
