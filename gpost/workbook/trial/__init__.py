"""Trials at the machine and beside it: weighings, a change of colour, a small cylinder, lumps, bars."""
