"""What stands in the box's copy of the package in place of modules that don't belong there.

The folder mirrors the package: `standin/view.py` becomes the copy's `rigkit/view.py`,
and imports of `rigkit.grading.standin` become imports of `rigkit`.
"""
