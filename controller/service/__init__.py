"""The daemon as a guest of its machine: logs, service manager, memory across restarts, wall-clock chores."""
