# Student's t near its middle at 40 digits, where R 4.2.2's qt keeps only about eight (at df 1 the closed form tan(pi (p - 1/2)) shows it).
# Inputs are taken as the exact doubles they are. Run:  python3 reference/distributions/central.py > reference/distributions/central.json
import json, sys
import mpmath as mp

mp.mp.dps = 40


def central(t, df):  # P(T <= t) - 1/2
    t, df = mp.mpf(t), mp.mpf(df)
    peak = mp.gamma((df + 1) / 2) / (mp.sqrt(df * mp.pi) * mp.gamma(df / 2))
    return peak * t * mp.hyp2f1(mp.mpf(1) / 2, (df + 1) / 2, mp.mpf(3) / 2, -t * t / df)


dfs = [0.5, 0.7, 1.0, 2.0, 2.3, 7.21, 30.0, 1e6]
quantiles = []
for df in dfs:
    for p in [0.49, 0.4999, 0.5 - 1e-9, 0.5 + 1e-9, 0.5001, 0.505, 0.51]:
        q = mp.mpf(p) - mp.mpf(1) / 2
        peak = central(mp.mpf(10) ** -30, df) * mp.mpf(10) ** 30
        t = mp.findroot(lambda x: central(x, df) - q, q / peak)
        quantiles.append({"p": p, "df": df, "t": float(t)})
cdf = [{"t": t, "df": df, "lower": float(mp.mpf(1) / 2 + central(t, df))} for df in dfs for t in [-0.2, -0.09, -1e-9, 1e-9, 1e-4, 0.11]]
json.dump({"program": f"Python {sys.version.split()[0]} / mpmath {mp.__version__}", "script": "reference/distributions/central.py", "tQuantile": quantiles, "t": cdf}, sys.stdout, indent=1)
