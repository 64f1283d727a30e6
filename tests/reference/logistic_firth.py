# Prints the fits with Firth's penalty that the tests compare with: the maximum of the penalised
# likelihood by a general minimiser, and the ends of its profile by root finding. Made with SciPy
# 1.17.1 and NumPy 2.4.6; reads spector.csv beside it.
import numpy as np
from scipy.optimize import brentq, minimize


def penalised(b, x, s, n):
    eta = x @ b
    p = 1 / (1 + np.exp(-eta))
    information = (x * (n * p * (1 - p))[:, None]).T @ x
    return (s * eta - n * np.logaddexp(0, eta)).sum() + 0.5 * np.linalg.slogdet(information)[1]


def maximum(x, s, n, held=None, value=0.0, start=None):
    free = [k for k in range(x.shape[1]) if k != held]

    def full(part):
        b = np.zeros(x.shape[1])
        b[free] = part
        if held is not None:
            b[held] = value
        return b

    start = np.zeros(len(free)) if start is None else start
    for _ in range(6):
        found = minimize(lambda part: -penalised(full(part), x, s, n), start, method="Nelder-Mead",
                         options=dict(xatol=1e-12, fatol=1e-14, maxiter=40000, maxfev=40000))
        start = found.x
    return full(found.x), -found.fun


def report(name, x, s, n):
    # Standardised, so that the minimiser's simplex has one size in all directions.
    mean, sd = x.mean(axis=0), x.std(axis=0)
    z = np.column_stack([np.ones(len(x)), (x - mean) / sd])
    b, top = maximum(z, s, n)
    print(name, "coefficients", (b[1:] / sd).tolist(), "constant", b[0] - (b[1:] * mean / sd).sum())
    for k in range(1, z.shape[1]):
        loss = lambda v: 2 * (top - maximum(z, s, n, k, v)[1]) - 3.841458820694124
        print(" ", k, [brentq(loss, b[k], b[k] + side * 8, xtol=1e-9) / sd[k - 1] for side in (-1, 1)])


if __name__ == "__main__":
    spector = np.loadtxt("spector.csv", delimiter=",", comments="#")
    report("spector", spector[:, :3], spector[:, 3], np.ones(len(spector)))
    # No success at a = 0 in 20 trials, whatever b: quasi-complete separation.
    x = np.array([[a, b] for a in (0.0, 1.0) for b in (-1.0, 0.0, 1.0)])
    report("separated", x, np.array([0, 0, 0, 2.0, 3.0, 5.0]), np.array([7, 6, 7, 6, 7, 6.0]))
    # The same with counts that are worth a quarter.
    report("quarter", x, np.array([0, 0, 0, 2.0, 3.0, 5.0]) / 4, np.array([7, 6, 7, 6, 7, 6.0]) / 4)
