"""Space only: solids, runs that can be laid among them, surplus, supports.

Knows no volts, no money and no files. Metres, radians, numpy.
"""
