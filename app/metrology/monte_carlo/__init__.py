"""Propagation of distributions by simulation: the second opinion beside the first-order budget. JCGM 101:2008.

NumPy is imported at the top of these modules; whoever must start fast imports them where they are used.
"""
