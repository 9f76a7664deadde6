"""The Viewer's calls for guides: each draws one, replaces the one drawn before by the same call, and takes it away for None.

A guide stays where it was drawn. One that is to follow what moves is given as a function: `viewer.guide(name, function)`
calls it whenever the scene is drawn.
"""

from rigkit import arguments, words
from rigkit.view import foot_guides, gaze_guides, guides, limb_guides, marks, trails, weight_guide
from rigkit.view.guides import Guide
from rigkit.view.turns import one_at_a_time


class Guiding:
    """What a Viewer can draw to explain. Points are (3,) in metres, angles radians."""

    def guide(self, name, made):
        """Draw a Guide, or what a function without arguments gives each time the scene is drawn; None takes away the one of this name."""
        if made is None:
            self._guides.pop(name, None)
        else:
            self._guides[name] = made
        self.redraw()
        self._show_numbers()

    def guides_now(self):
        """The Guides as they are now; one whose function stops says why in the number table."""
        return [_made(name, made) for name, made in self._guides.items()]

    def reach(self, centre, outer=None, inner=0.0, soft=0.0):
        """The shell of what can be reached around `centre`, metres; soft: the width of the zone at its edge, shaded."""
        if centre is None:
            return self.guide("reach", None)
        layer = guides.reach(arguments.points("centre", centre), outer, inner, soft=soft)
        lengths = {"farthest reach": outer, "nearest reach": inner, "soft zone begins at": outer - soft if soft else 0.0}
        self.guide("reach", Guide(layer, tuple((label, words.millimetres(metres)) for label, metres in lengths.items() if metres)))

    def bend_plane(self, root, mid=None, end=None, hinge=None):
        """The bend plane of a limb, with its normal; a straight limb needs its hinge axis."""
        self.guide("bend plane", None if root is None else limb_guides.plane(root, mid, end, hinge))

    def flip_line(self, root, pole=None, target=None):
        """The line through root and pole point on which a limb flips; with a target, its angle to that line and the swivel gain."""
        self.guide("flip line", None if root is None else limb_guides.flip_line(root, pole, target))

    def swivel_circle(self, root, mid=None, end=None, reference=None):
        """The circle that the middle joint can go round, and its swivel angle from the direction `reference`."""
        self.guide("swivel circle", None if root is None else limb_guides.swivel_circle(root, mid, end, reference))

    def pivots(self, pivots, stands=None, name="foot", **channels):
        """A foot's `rigkit.foot.Pivots`, those lit that it turns about. stands: the foot's frame (rotation, position) in the world.

        channels: roll, tilt, swivel, heel_swivel, toe_swivel, turn_over, as `rigkit.foot.stack` takes them. name: one for each foot drawn.
        """
        self.guide(f"pivots of {name}", None if pivots is None else foot_guides.pivots(pivots, stands, **channels))

    def look_lines(self, eyes, target=None, turns=None):
        """Lines from eyes {name: point} to what they look at; turns (E, 4) in the world: where each really looks."""
        self.guide("look lines", None if eyes is None else gaze_guides.look_lines(eyes, target, turns))

    def trails(self, ways, now=None, every=0):
        """The ways {label: (N, 3)} that joints go; now: the place to mark; every: a dot each so many places."""
        self.guide("trails", None if ways is None else trails.trails(ways, now, every))

    @one_at_a_time
    def weights(self, joint_name):
        """Colour the model by how much each corner hangs on a joint, from dark (0) to light (1), with a legend and counts."""
        self._need_character("weights")
        if joint_name is not None:
            self.character.skeleton.index(joint_name)
        self._weigh(joint_name)
        self.guide("weights", None if joint_name is None else lambda: weight_guide.guide(self.character, joint_name, self.eye, self.size))


def _made(name, made):
    if not callable(made):
        return made
    try:
        return made()
    except ValueError as error:  # a limb may come to lie straight in the middle of a drag: then there is nothing to draw
        return Guide(marks.Layer(), ((name, str(error)),))
