"""Small linear systems x = 1 + Q x of a process that ends: mean number of steps until it does.

Q holds the chances to go on from state to state, so 1 - Q is dominated by its diagonal and elimination needs no row
exchange. What is lost in rounding is about the mean times 1e-16, relative.
"""

from collections.abc import Mapping, Sequence


def mean_steps(going_on: Sequence[Mapping[int, float]]) -> list[float]:
    """Mean steps from each state until the end; `going_on[i][j]` is the chance (or weight) to go from i to j.

    Chances of 0 may be left out: a chart of counts falls by little in one step, which keeps its rows short.
    """
    rows: list[dict[int, float]] = []  # each with its diagonal and what lies right of it
    ones: list[float] = []
    for i, onward in enumerate(going_on):
        row = {j: -chance for j, chance in onward.items()}
        row[i] = row.get(i, 0.0) + 1.0
        one = 1.0
        for j in range(min(row), i):
            if (share := row.pop(j, 0.0)) != 0:
                share /= rows[j][j]
                for column, value in rows[j].items():
                    if column != j:
                        row[column] = row.get(column, 0.0) - share * value
                one -= share * ones[j]
        rows.append(row)
        ones.append(one)
    steps = [0.0] * len(rows)
    for i in range(len(rows) - 1, -1, -1):
        steps[i] = (ones[i] - sum(value * steps[j] for j, value in rows[i].items() if j != i)) / rows[i][i]
    return steps
