"""An ordinary process with limits, where there is no box: it confines neither files nor network on every system."""

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
    group = PlainGroup(process)
    try:
        yield process, group
    finally:
        group.end()
        finish(process)
