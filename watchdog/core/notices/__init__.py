"""What people are told that is no alarm: it asks for nothing, or once, and is never insisted on. One notice a file.

Each has a `look` that takes what it remembered and gives what it remembers now, with a `Tell` of kind NOTICE when it is time.
Whom it goes to is the settings' business; the words are the alerts'.
"""
