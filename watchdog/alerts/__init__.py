"""The words of a message, and its way to a person."""
