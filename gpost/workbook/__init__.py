"""The potter's workbook beside the printing: the day, the loads, the stains, the trials, the log."""
