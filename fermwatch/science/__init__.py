"""The computing of the trade, pure: numbers in, numbers out, no clock, no file, no other room but errors.

Every function takes floats or numpy arrays alike and gives back the same kind; units stand in the names.
Outside the range that a formula is good for it raises `fermwatch.errors.OutOfDomain`.
"""
