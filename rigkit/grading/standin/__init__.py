"""What the box's copy of the package holds in place of modules that don't belong there; copied, never imported by the grader."""
