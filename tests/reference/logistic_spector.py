# Writes spector.csv and prints the fit that the test compares with. Made with statsmodels 0.15.0,
# whose data set is that of Spector and Mazzeo, J Econ Educ 11:37-44, 1980.
import statsmodels
import statsmodels.api as sm

data = sm.datasets.spector.load_pandas()
fit = sm.Logit(data.endog, sm.add_constant(data.exog)).fit(disp=0)
print(statsmodels.__version__, fit.params.tolist(), fit.bse.tolist(), fit.llf)
with open("spector.csv", "w") as file:
    file.write(f"# statsmodels {statsmodels.__version__}, datasets.spector: GPA, TUCE, PSI, GRADE\n")
    for row in data.data.values.tolist():
        file.write(",".join(str(value) for value in row) + "\n")
