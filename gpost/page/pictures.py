"""The still pictures of the page, each an SVG with what it shows in words."""

from __future__ import annotations

import base64
from typing import NamedTuple

from gpost.page.charts import charts
from gpost.page.columns import loading_columns
from gpost.page.stills import side_view
from gpost.plan.plan import Plan
from gpost.report.model import Summary


class Picture(NamedTuple):
    """A picture for the page."""

    svg: str
    alt: str
    """What it shows, for whoever can't see it."""

    @property
    def address(self) -> str:
        """The picture as an address: an image can't run anything, or ask for anything."""
        return f"data:image/svg+xml;base64,{base64.b64encode(self.svg.encode()).decode()}"


class Pictures(NamedTuple):
    """Those of one job; None or none: the words beside it tell the same."""

    side: Picture | None = None
    """The piece from the side."""
    loading: tuple[Picture, ...] = ()
    """What is in the cartridges."""
    charts: tuple[Picture, ...] = ()


def pictures(summary: Summary, plan: Plan) -> Pictures:
    """What can be drawn of a job."""
    return Pictures(
        Picture(*side_view(summary, plan)),
        tuple(Picture(*each) for each in loading_columns(summary, plan)),
        tuple(Picture(*chart) for chart in charts(summary, plan)),
    )
