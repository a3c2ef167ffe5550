# What people do instead: read the CSV of the whole kennel into pandas and give, for
# one dog or for those with a session in the last three days, each cue's rate of right first
# asks with its Wilson interval and the Kaplan-Meier median of the time to answer.
#
#   python3 dogs.py trials.csv [DOG]
import datetime
import math
import sys

import pandas as pd

LIMIT = 3.0  # seconds an ask stands, at which what was not answered is censored
Z = 1.959963984540054

trials = pd.read_csv(sys.argv[1])
if len(sys.argv) > 2:
    trials = trials[trials.dog == sys.argv[2]]
else:
    day = trials.start.str[:10]
    since = datetime.date.fromisoformat(day.max()) - datetime.timedelta(days=2)
    trials = trials[trials.dog.isin(trials.dog[day >= str(since)])]
trials = trials.assign(right=(trials.response == "yes") & (trials.asks == 1))


def judge(cue):
    n, p = len(cue), cue.right.mean()
    centre, half = p + Z * Z / (2 * n), Z * math.sqrt(p * (1 - p) / n + Z * Z / (4 * n * n))
    times = cue.latency.where(cue.right, LIMIT)
    curve = pd.DataFrame({"event": cue.right, "all": 1}).groupby(times).sum()
    at_risk = curve["all"][::-1].cumsum()[::-1]
    surviving = (1 - curve.event / at_risk).cumprod()
    median = surviving.index[surviving <= 0.5].min()
    return pd.Series({"of": n, "rate": p, "low": (centre - half) / (1 + Z * Z / n),
                      "high": (centre + half) / (1 + Z * Z / n), "median": median})


print(trials.groupby(["dog", "cue"]).apply(judge).to_string())
