"""The figures in words, one subject a file. Terminal and page print the same sections."""
