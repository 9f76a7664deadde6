"""Tally's finished rig while a notebook is graded: all functions of the real module, closed."""

from rigkit.grading.standin.silent import closed

NAMES = """
    tally_rig rigged_tally hinges hinge_range centre arm leg on_joint marker around turned body_links hose_links eye_links
    arm_links limb_link leg_links
""".split()
globals().update({name: closed(f"robot.rig.{name}") for name in NAMES})
