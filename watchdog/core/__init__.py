"""The pure core: what is seen goes in, what should be said and recorded comes out.

Nothing below this package reads a clock, a file or a socket, and nothing keeps state outside the values that it is given.
"""
