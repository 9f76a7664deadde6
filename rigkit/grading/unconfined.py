"""An ordinary process of a process group of its own, where there are no namespaces.

With Landlock and the filter it is confined by what it gives up itself (landlock). Without them it is not: limits and a wall clock
confine neither files nor network, so a person has to ask for it.
"""

import contextlib
import os
import subprocess

from rigkit.grading.confinement import ENVIRONMENT
from rigkit.grading.groups import PlainGroup, finish


@contextlib.contextmanager
def opened(command, work):
    """Start a command as an ordinary process of a group of its own; gives (process, group), and ends the group at the end."""
    environment = {
        **ENVIRONMENT,
        "PATH": os.environ.get("PATH", ""),
        "HOME": work,
        "PWD": work,
        "TMPDIR": work,
        "IPYTHONDIR": work,
        "MPLCONFIGDIR": work,
    }
    if os.name == "nt":
        environment |= {name: os.environ[name] for name in ("SYSTEMROOT", "WINDIR") if name in os.environ}
    process = subprocess.Popen(
        command,
        env=environment,
        cwd=work,
        start_new_session=True,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        bufsize=0,
    )
    group = PlainGroup(process, work)
    try:
        yield process, group
    finally:
        group.end()
        finish(process)
