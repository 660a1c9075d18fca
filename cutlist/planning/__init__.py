"""The steps of the main job that join layout, electricity and stock. `cutlist/plan.py` calls them in order."""
