"""The watcher and the simulator in one process, over real wires."""
