"""Who outside the project says so: the sources that tests name with `@pytest.mark.source("name", ...)`.

kind: "library" for code that is asked in the test, "text" for a number or law that somebody published, "model" for somebody's
data. The line above a test says which call, page or table; "(memory)" marks what was not looked at when the test was written.
"""

from typing import NamedTuple


class Source(NamedTuple):
    """kind: library, text or model. citation: one line."""

    kind: str
    citation: str


SOURCES = {
    "SciPy": Source("library", "PyPI scipy (BSD-3-Clause)"),
    "transforms3d": Source("library", "PyPI transforms3d (BSD-2-Clause)"),
    "pytransform3d": Source("library", "PyPI pytransform3d (BSD-3-Clause)"),
    "modern_robotics": Source("library", "PyPI modern_robotics (MIT)"),
    "MuJoCo": Source("library", "PyPI mujoco-core (Apache-2.0)"),
    "dual_quaternions": Source("library", "PyPI dual_quaternions (MIT)"),
    "ikpy": Source("library", "PyPI ikpy (Apache-2.0)"),
    "trimesh": Source("library", "PyPI trimesh (MIT)"),
    "pygltflib": Source("library", "PyPI pygltflib (MIT)"),
    "Khronos validator": Source("library", "npm gltf-validator (Apache-2.0, Khronos)"),
    "CIE": Source("text", "CIE 15:2004, Colorimetry; IEC 61966-2-1, sRGB (memory)"),
    "axe-core": Source("library", "npm axe-core (MPL-2.0, Deque Systems; a tool of the tests only)"),
    "OneRoster": Source("text", "1EdTech, OneRoster CSV Binding 1.2.1, 2023 (memory)"),
    "coreutils": Source("library", "GNU coreutils (GPL-3.0-or-later, a tool of the tests only): sha256sum"),
    "codespell": Source("library", "PyPI codespell (GPL-2.0, a tool of the tests only)"),
    "SymPy": Source("library", "PyPI sympy (BSD-3-Clause)"),
    "matplotlib": Source("library", "PyPI matplotlib (its own licence, after the PSF's): points inside a path"),
    "JVRC-1": Source("model", "PyPI jvrc-description 1.1.1 (Apache-2.0; CNRS-UM LIRMM, CNRS-AIST JRL): a humanoid for research"),
    "Machado": Source("text", "G. Machado, M. Oliveira, L. Fernandes, IEEE Trans. Visualization and Computer Graphics 15 (2009) 1291 (memory)"),
    "models of others": Source("model", "npm @webxr-input-profiles/assets (MIT), hands; Debian assimp-testmodels (BSD-3-Clause, some MIT)"),
    "glTF 2.0": Source("text", "Khronos, glTF 2.0 specification (ISO/IEC 12113:2022)"),
    "WCAG": Source("text", "W3C, Web Content Accessibility Guidelines 2.1 and 2.2"),
    "AAOS": Source("text", "American Academy of Orthopaedic Surgeons, joint ranges (memory)"),
    "Archimedes": Source("text", "Archimedes, On the Equilibrium of Planes I"),
    "Aristidou & Lasenby": Source("text", "A. Aristidou, J. Lasenby, FABRIK, Graphical Models 73 (2011) 243-260"),
    "Beer & Johnston": Source("text", "Beer & Johnston, Vector Mechanics for Engineers: Statics (memory)"),
    "Beyer": Source("text", "W. Beyer, CRC Standard Mathematical Tables (memory)"),
    "Buss": Source("text", "S. Buss, Introduction to Inverse Kinematics, 2004/2009; C. Wampler, 1986"),
    "Corke": Source("text", "P. Corke, Robotics, Vision and Control, 3rd edition, chapter 7"),
    "Craig": Source("text", "J. Craig, Introduction to Robotics, 3rd edition (memory)"),
    "Drillis & Contini": Source("text", "R. Drillis, R. Contini, 1966, in Winter, Biomechanics and Motor Control, 4th edition, Fig. 4.1"),
    "Euclid": Source("text", "Euclid, Elements"),
    "Haslwanter": Source("text", "T. Haslwanter, Mathematics of three-dimensional eye rotations, Vision Research 35 (1995) 1727 (memory)"),
    "Kavan et al.": Source("text", "L. Kavan, S. Collins, J. Zara, C. O'Sullivan, ACM TOG 27(4):105 (2008)"),
    "Lynch & Park": Source("text", "K. Lynch, F. Park, Modern Robotics, 2017 (memory)"),
    "Mechanical Engineers' Handbook": Source("text", "Mechanical Engineers' Handbook, vol. 2, Table 6"),
    "Okabe & Ito": Source("text", "M. Okabe, K. Ito, 2002; in B. Wong, Nature Methods 8 (2011) 441 (memory)"),
    "Pappus": Source("text", "Pappus-Guldinus theorem"),
    "Perry": Source("text", "J. Perry, Gait Analysis, 1992 (memory)"),
    "theorem": Source("text", "algebra or geometry that every textbook has, worked out again beside the check"),
    "Tolani et al.": Source("text", "D. Tolani, A. Goswami, N. Badler, Graphical Models 62 (2000) 353-388"),
    "Treloar": Source("text", "L. Treloar, The Physics of Rubber Elasticity"),
    "van Oosterom & Strackee": Source("text", "A. van Oosterom, J. Strackee, The solid angle of a plane triangle, 1983 (memory)"),
    "Wang & Chen": Source("text", "L. Wang, C. Chen, IEEE Trans. Robotics and Automation 7 (1991) 489"),
}
