"""The doors for machines: acts in, plans, verdicts, records and calculations out."""
