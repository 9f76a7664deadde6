"""Grading a class: hand-ins are taken in, run confined, judged, and told about.

intake       reads folders and zips of strangers
package      makes the box's copy of the package, without what would hand an answer over
box          runs one notebook confined, and watches it; inbox is the program inside, records what may leave
marking      one notebook from bytes to points
coordinator  the whole class; results keeps the record, reports tells
"""

__all__ = ["grade"]


def grade(*args, **kwargs):
    """Grade a folder of hand-ins, as `rigkit grade` does; see rigkit.grading.coordinator.grade."""
    from rigkit.grading import coordinator

    return coordinator.grade(*args, **kwargs)
