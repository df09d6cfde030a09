"""The summary of a job: one frozen record, shown as words or as JSON."""
