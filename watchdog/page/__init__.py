"""The local page: what a link in a message opens."""
