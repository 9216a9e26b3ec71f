"""The figures of a review, one subject a file: pure, rows in, numbers out."""
