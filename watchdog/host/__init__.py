"""The computer that the watch runs on: its service manager, and one watch per state directory."""
