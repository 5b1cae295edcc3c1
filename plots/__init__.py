"""Properties, people's roles in them, plots with their boundaries, and plantings."""
