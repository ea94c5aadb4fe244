"""A recorded log through the watcher's own memory, judges and rules, in log time."""
