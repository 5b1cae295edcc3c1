"""Every formula, table and decision rule, in plain Python.

No Django, no clock and no files but the package's own: "today" is always a parameter. Functions take and
return frozen dataclasses, units stand in the names, and input outside a published range raises `ValueError`.
"""
