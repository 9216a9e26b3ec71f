"""Small linear systems x = 1 + Q x of a process that ends: mean number of steps until it does.

Q holds the chances to go on from state to state, so 1 - Q is dominated by its diagonal and elimination needs no row
exchange. What is lost in rounding is about the mean times 1e-16, relative.
"""

from collections.abc import Sequence


def mean_steps(going_on: Sequence[Sequence[float]]) -> list[float]:
    """Mean steps from each state until the end; `going_on[i][j]` is the chance (or weight) to go from i to j."""
    size = len(going_on)
    rows = [[(i == j) - chance for j, chance in enumerate(row)] + [1.0] for i, row in enumerate(going_on)]
    for pivot in range(size):
        head = rows[pivot]
        for row in rows[pivot + 1 :]:
            if row[pivot] != 0:  # far below the diagonal most are: a count falls by little in one step
                share = row[pivot] / head[pivot]
                for column in range(pivot, size + 1):
                    row[column] -= share * head[column]
    steps = [0.0] * size
    for i in range(size - 1, -1, -1):
        row = rows[i]
        steps[i] = (row[size] - sum(row[j] * steps[j] for j in range(i + 1, size))) / row[i]
    return steps
