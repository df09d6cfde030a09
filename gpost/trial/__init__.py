"""Trials at the machine: weighings, a strip to weigh, a change of colour, a small cylinder."""
