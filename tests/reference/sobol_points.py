# Writes sobol_points.csv: the first 16 points in 8 dimensions of an unscrambled Sobol sequence with
# the direction numbers of Joe and Kuo 2008, times 2^16. Made with SciPy 1.17.1.
import scipy
from scipy.stats import qmc

points = qmc.Sobol(d=8, scramble=False, bits=16).random_base2(4)
with open("sobol_points.csv", "w") as file:
    file.write(f"# SciPy {scipy.__version__}, scipy.stats.qmc.Sobol(d=8, scramble=False, bits=16)\n")
    for point in points:
        file.write(",".join(str(int(value * 65536)) for value in point) + "\n")
