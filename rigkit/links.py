"""Links: what makes a joint obey a control.

A link is a pure function from frames and control channels to frames. It names what it
drives and what it needs; from the rest pose it works out once what stays the same, and gives
its *steps*: (names given, names needed, function of frames and channel values). `rigkit.rig` puts
the steps of all links in order. Frames are rows of numbers, see `rigkit._rows`.

Every link keeps the rest pose: with all channels at home, what it drives stands as it stood. And every link
works inside the frame that carries it, so that the whole rig may be turned, moved and scaled.

Follow, Blend and Share are here, Limb and Foot in `rigkit._links_limb`, Gaze and Chain in `rigkit._links_aim`; import all from here.
"""

from dataclasses import dataclass, field

from rigkit import _rows as rows
from rigkit._links_aim import Chain, Gaze  # noqa: F401 (two of the links)
from rigkit._links_base import WORLD, Rest, Step, as_names, blended, carried_by, given  # noqa: F401
from rigkit._links_limb import Foot, Limb  # noqa: F401


@dataclass(frozen=True)
class Follow:
    """A joint or control that keeps the offset it has at rest from a leader.

    driven: its name. leaders: the names of joints or controls, or "world". channel: "control.channel" that
    picks one, 0 the first, 1 the second and so on, between two of them a blend; needed for more than one leader.
    held_by: where given, the leaders turn it only, and its place is the one it has on this joint or control.
    """

    driven: str
    leaders: tuple
    channel: str | None = None
    held_by: str | None = None

    def __post_init__(self):
        object.__setattr__(self, "leaders", as_names(self.leaders))
        if not self.leaders:
            raise ValueError(f"{self.driven} follows nobody; expected a joint, a control or 'world'")
        if len(self.leaders) > 1 and self.channel is None:
            raise ValueError(
                f"{self.driven} follows {len(self.leaders)} leaders and no channel picks one; expected channel='control.channel'"
            )

    drives = property(lambda self: (self.driven,))
    channels = property(lambda self: given(self.channel))

    def steps(self, rest):
        carried = {name: carried_by(rest, name, self.driven) for name in (*self.leaders, *given(self.held_by))}
        first, *others = (carried[name] for name in self.leaders)
        held = carried.get(self.held_by)

        def run(frames, values):
            found = first(frames)
            for k, other in enumerate(others):
                found = blended(found, other, frames, rows.clip(values[self.channel] - k, 0.0, 1.0))
            return ((found[0], *held(frames)[1:]) if held else found,)

        return [Step((self.driven,), tuple(carried), run)]


@dataclass(frozen=True)
class Blend:
    """A joint or control between two others: its place and its turn are the share t of the way from first to second.

    share: a number from 0 to 1, or a "control.channel". The offsets at rest are kept from both.
    """

    driven: str
    first: str
    second: str
    share: float | str = 0.5

    drives = property(lambda self: (self.driven,))
    channels = property(lambda self: (self.share,) if isinstance(self.share, str) else ())

    def steps(self, rest):
        first, second = (carried_by(rest, name, self.driven) for name in (self.first, self.second))

        def run(frames, values):
            share = values[self.share] if isinstance(self.share, str) else float(self.share)
            return (blended(first(frames), second, frames, rows.clip(share, 0.0, 1.0)),)

        return [Step((self.driven,), (self.first, self.second), run)]


@dataclass(frozen=True)
class Share:
    """One channel that drives many: each of `gains`, "name.channel" of a joint or control, gets gain times its value added.

    source: "control.channel". A joint has the channels move_x to turn_z in its own rest frame.
    """

    source: str
    gains: dict = field(hash=False)

    drives = ()
    channels = property(lambda self: (self.source,))

    def steps(self, rest):
        return []
