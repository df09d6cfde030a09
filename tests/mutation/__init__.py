"""Mutation testing of the core: would a test notice if one thing in the code were another?"""
