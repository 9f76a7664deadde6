"""The warm server in the box: it has imported what every submission needs, and forks a corner for each.

It never runs a learner's code and never reads what one wrote: the pipes of a
submission pass through it by handle alone. It ends when the grader hangs up, and
with it every process it started, for it is the first one of its namespace.
"""

import gc
import json
import os
import random
import signal
import socket
import sys

HERE = os.path.dirname(os.path.abspath(__file__))


def main():
    """Import, say "ready", then make a corner for every three pipes that come."""
    control = socket.socket(fileno=int(sys.argv[1]))
    control.set_inheritable(False)
    view = json.loads(control.recv(1 << 20))
    sys.path[:0] = [HERE]
    sys.path += [path for path in view["paths"] if path not in sys.path]
    import inbox
    import nest

    inbox.warm_up()
    sys.argv = [os.path.join(HERE, "inbox.py")]
    folders = [folder for folder, _, _ in os.walk("/tmp/home")]
    gc.collect()
    gc.freeze()
    signal.signal(signal.SIGCHLD, _reap)
    nowhere = os.open(os.devnull, os.O_RDWR)
    os.dup2(nowhere, 2)
    control.send(b"ready")
    while True:
        _, handles, _, _ = socket.recv_fds(control, 64, 3)
        if len(handles) != 3:
            os._exit(0)  # the grader hung up
        if os.fork() == 0:
            _corner(nest, inbox, view, control, handles, folders)
        for handle in handles:
            os.close(handle)


def _corner(nest, inbox, view, control, handles, folders):
    """In a fork: hand the corner's first process over to the grader, and end."""
    try:
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        for handle, place in zip(handles, (0, 1, 2)):
            os.dup2(handle, place)
        nest.corner(view, lambda first: socket.send_fds(control, [b"begun"], [os.pidfd_open(first)]), lambda: _run(inbox, folders))
    except BaseException as error:  # the grader must hear of it, whatever it is
        control.send(f"{type(error).__name__}: {error}".encode()[:200])
    finally:
        os._exit(0)


def _run(inbox, folders):
    """The submission's own process: nothing of the server's is open in it any more."""
    os.closerange(3, 1 << 16)
    for folder in folders:
        os.makedirs(folder, exist_ok=True)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    random.seed()
    sys.modules["numpy"].random.seed()
    inbox.main()


def _reap(signum, frame):
    try:
        while os.waitpid(-1, os.WNOHANG) != (0, 0):
            pass
    except ChildProcessError:
        pass


if __name__ == "__main__":
    main()
