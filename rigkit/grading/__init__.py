"""Grading a class: hand-ins are taken in, run confined, judged, and told about.

intake       reads folders and zips of strangers (entries, cells, rigkit.course.archive); times says when each
             came, and which of several counts
package      makes the box's copy of the package, without what would hand an answer over
box          runs one notebook confined: in a fork of a warm server (warm, nest, forker) or in a fresh box (bubblewrap);
             without namespaces Landlock and a filter hold it (landlock, unconfined); watching follows it, groups ends it,
             confinement says what it may; inbox is the program inside, confining what it gives up, records what may leave
marking      one notebook from bytes to points
coordinator  the whole class; planning says what is to be run, pools who runs it (threads, or the machines of a cluster); versions
             gives each notebook its key; results keeps the record (schema), telling talks to the terminal
reports      what a class is told: pages, figures, tables; reader is what a person does to results
"""

__all__ = ["grade"]


def grade(*args, **kwargs):
    """Grade a folder of hand-ins, as `rigkit grade` does; see rigkit.grading.coordinator.grade."""
    from rigkit.grading import coordinator

    return coordinator.grade(*args, **kwargs)
