"""What puts a rig together while a notebook is graded: all functions of the real module, closed."""

from rigkit.grading.standin.silent import closed

NAMES = """
    material assemble walked hinges _points _loop _skeleton _turn _control _link least_outline
""".split()
globals().update({name: closed(f"robot.assembly.{name}") for name in NAMES})
