"""Random but meaningful questions for every topic: real ids and words, month ends and leap days, and every limit
exactly, just below and just above."""

from . import inputs_charts as charts
from . import inputs_papers as papers
from . import inputs_values as values

MAKERS = {
    "retention": charts.retention,
    "age": charts.age,
    "deidentification": charts.deidentification,
    "late_entry": charts.late_entry,
    "xray": charts.xray,
    "part": charts.part,
    "deadlines": papers.deadlines,
    "accounting": papers.accounting,
    "authorization": papers.authorization,
    "fees": papers.fees,
    "segments": values.segments,
    "regions": values.regions,
    "plausibility": values.plausibility,
    "change": values.change,
}
