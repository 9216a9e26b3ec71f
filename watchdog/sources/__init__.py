"""Where lines of traffic come from: a serial port, a growing log, a finished recording. And the recorder.

A source says what it hears through a `Hear`, in time order, and runs until it is cancelled. It decides nothing about
machines: a lost link is news, not an error.
"""
