"""A compositor that, for a partial update, renders only the widgets that the update touches.

The stock one of the pinned Textual renders every widget on the screen whenever one line of it changes; on the
step screen that was the larger part of the time from a key to its digit.
"""

from collections.abc import Iterable

from textual._compositor import Compositor
from textual.geometry import Region
from textual.strip import Strip


class NearCompositor(Compositor):
    """Leaves out what lies beside the update."""

    def _get_renders(self, crop: Region | None = None) -> Iterable[tuple[Region, Region, list[Strip]]]:
        if crop is None:
            yield from super()._get_renders(crop)
            return
        for widget, (region, clip) in self.visible_widgets.items():
            seen = region.intersection(clip)
            if seen and crop.overlaps(seen):
                yield region, clip, widget.render_lines(seen.translate(-region.offset))
