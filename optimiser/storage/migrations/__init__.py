"""The steps from one schema to the next, run by `optimiser.storage.schema`. Each step is one file in `versions`.

A released step is never edited; a change of the tables is a new step.
"""
