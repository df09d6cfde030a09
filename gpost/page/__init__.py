"""The job sheet to look at: the page of a job, and its pictures."""
