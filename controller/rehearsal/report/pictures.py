"""What the pictures of a rehearsal share: paper, colours, and labels that stand at the lines they name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from controller.units import TemperatureUnit, fahrenheit_from_celsius

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from matplotlib.axes import Axes

WIDTH_IN, DPI = 10.0, 120  # 1200 pixels
MARGIN_IN, LEFT_IN, RIGHT_IN = 0.18, 0.95, 1.55
PANEL_IN = WIDTH_IN - LEFT_IN - RIGHT_IN
POINTS_PER_IN = 72.0
# Colours that stay apart for people with any common colour blindness: Okabe & Ito, "Color Universal Design"
# (2008).
ORANGE, SKY, GREEN, BLUE, RED, PURPLE = "#E69F00", "#56B4E9", "#009E73", "#0072B2", "#D55E00", "#CC79A7"
GREY, PALE, INK = "#8C8C8C", "#DDDDDD", "#333333"
SMALL, NORMAL, LARGE = 9.0, 10.0, 12.0
# Words have their line's colour, darker: the palest, orange, then has a contrast of 5 to white (4.5 is asked
# for by WCAG 2.1).
WORDS_SHADE = 0.65
MARK_WIDTH = 0.02  # of a panel's


@dataclass(frozen=True, slots=True)
class Label:
    """Words that stand beside a line, at the height where it ends."""

    y: float
    text: str
    colour: str
    mark: str = "s"  # a square, where there is no line


def to_read(value_c: float, unit: TemperatureUnit) -> float:
    """A temperature in the unit people read."""
    return fahrenheit_from_celsius(value_c) if unit is TemperatureUnit.FAHRENHEIT else value_c


def paper(
    title: str, subtitle: str, panel_heights_in: Sequence[float], gap_in: float
) -> tuple[Figure, list[Axes]]:
    """A figure of this width with panels below each other.

    Args:
        title: large, at the top left.
        subtitle: small, below it.
        panel_heights_in: of each panel from the top, in inches.
        gap_in: between panels, room for a panel's title included.
    """
    head_in, foot_in = 1.3, 0.5
    height_in = head_in + sum(panel_heights_in) + gap_in * (len(panel_heights_in) - 1) + foot_in
    figure = Figure(figsize=(WIDTH_IN, height_in), dpi=DPI, facecolor="white")
    titles(figure, title, subtitle)
    panels, top_in = [], height_in - head_in
    for panel_in in panel_heights_in:
        box = (LEFT_IN / WIDTH_IN, (top_in - panel_in) / height_in, PANEL_IN / WIDTH_IN, panel_in / height_in)
        panels.append(tidy(figure.add_axes(box)))
        top_in -= panel_in + gap_in
    return figure, panels


def titles(figure: Figure, title: str, subtitle: str) -> None:
    """What a figure shows, large, and of what and when, small, at the top left."""
    left, height_in = MARGIN_IN / WIDTH_IN, figure.get_size_inches()[1]
    top, below = 1.0 - 0.30 / height_in, 1.0 - 0.58 / height_in
    figure.text(left, top, title, size=LARGE + 2, weight="bold", color=INK, va="center")
    figure.text(left, below, subtitle, size=NORMAL, color=GREY, va="center")


def tidy(panel: Axes) -> Axes:
    """A panel without frame and ticks, with pale lines across."""
    for side in ("top", "right", "left"):
        panel.spines[side].set_visible(False)
    panel.spines["bottom"].set_color(GREY)
    panel.tick_params(colors=INK, labelsize=SMALL, length=0)
    panel.grid(axis="y", color=PALE, linewidth=0.8)
    panel.set_axisbelow(True)
    return panel


def headline(panel: Axes, text: str) -> None:
    """A panel's title, at its left edge."""
    panel.set_title(text, loc="left", size=LARGE, color=INK, x=(MARGIN_IN - LEFT_IN) / PANEL_IN, pad=12.0)


def label_ends(panel: Axes, labels: Sequence[Label], *, lines: bool = True) -> None:
    """Put labels right of a panel, each at its height or as near as the others leave room.

    Args:
        panel: with its final limits.
        labels: what to put there.
        lines: whether to draw a line from each height to its label rather than a mark before it.
    """
    low, high = sorted(panel.get_ylim())
    figure_in = panel.get_figure().get_size_inches()[1]  # type: ignore[union-attr] # a panel has a figure
    gap = 1.45 * SMALL / POINTS_PER_IN / (panel.get_position().height * figure_in) * (high - low)
    downwards = panel.get_ylim()[0] > panel.get_ylim()[1]
    heights = spread([-label.y if downwards else label.y for label in labels], gap)
    across = panel.get_yaxis_transform()  # x as a share of the panel, y as data
    for label, height in zip(labels, heights, strict=True):
        y = -height if downwards else height
        left = 1.02
        if lines:
            ends = [label.y, y]
            panel.plot([1.0, 1.015], ends, color=label.colour, linewidth=1.0, transform=across, clip_on=False)
        else:
            left += MARK_WIDTH
            panel.plot(
                1.02 + MARK_WIDTH / 2.5,
                y,
                color=label.colour,
                marker=label.mark,
                markersize=7.0,
                transform=across,
                clip_on=False,
            )
        panel.text(
            left,
            y,
            label.text,
            color=_for_words(label.colour),
            size=SMALL,
            va="center",
            transform=across,
            clip_on=False,
        )


def _for_words(colour: str) -> tuple[float, float, float]:
    """A colour dark enough for small letters on white."""
    red, green, blue = to_rgb(colour)
    return WORDS_SHADE * red, WORDS_SHADE * green, WORDS_SHADE * blue


def frost_line(panel: Axes, unit: TemperatureUnit) -> list[Label]:
    """Draw where water freezes, if the panel goes down so far; the label that belongs to it."""
    frost = to_read(0.0, unit)
    if panel.get_ylim()[0] >= frost:
        return []
    panel.axhline(frost, color=GREY, linewidth=1.0, linestyle=(0, (4, 3)), zorder=1)
    return [Label(frost, "frost", GREY)]


def spread(heights: Sequence[float], gap: float) -> list[float]:
    """Heights moved apart to at least ``gap``, in the same order from low to high, as near as possible.

    Neighbours that are too close become a block around the mean of where its members want to be.
    """
    blocks: list[tuple[list[int], float]] = []  # members from low to high, and the height of their middle
    for index in sorted(range(len(heights)), key=lambda i: heights[i]):
        members, middle = [index], heights[index]
        while blocks and middle - blocks[-1][1] < gap * (len(members) + len(blocks[-1][0])) / 2.0:
            members = blocks.pop()[0] + members
            middle = sum(heights[i] for i in members) / len(members)
        blocks.append((members, middle))
    placed = list(heights)
    for members, middle in blocks:
        for place, index in enumerate(members):
            placed[index] = middle + (place - (len(members) - 1) / 2.0) * gap
    return placed


def save(figure: Figure, path: Path) -> None:
    """Write a figure as PNG.

    Raises:
        OSError: it cannot be written.
    """
    figure.savefig(path, format="png", dpi=DPI)
