"""A card for a notebook: a curve in small, and what is believed of the thing it belongs to."""

from html import escape

import numpy as np
from numpy.typing import NDArray

from lampkit.uncertainty import Belief


def card(heading: str, curve: NDArray[np.float64], beliefs: tuple[Belief, ...], notes: tuple[str, ...]) -> str:
    """Write what is believed of a thing as a piece of a page: a small curve, the beliefs and the notes.

    Parameters
    ----------
    heading : str
        The thing.
    curve : ndarray, shape (471,) [1]
        Its curve, zero to one, drawn from 400 nm to 760 nm.
    beliefs : tuple of Belief
        What is believed.
    notes : tuple of str
        What to know.

    Returns
    -------
    str
        HTML, in the colours of the page that holds it.

    Source: the kit's own convention.
    """
    points = "L".join(f"{i / 2:g},{44 - 40 * v:.1f}" for i, v in enumerate(curve[40:401:2].tolist(), start=0))
    rows = "".join(
        f"<tr><td>{escape(b.name)} [{escape(b.unit)}]</td><td>{b.typical:.4g}</td><td>{_spread(b)}</td>"
        f"<td>{escape(b.source)}</td></tr>"
        for b in beliefs
    )
    listed = "".join(f"<li>{escape(note)}</li>" for note in notes)
    return (
        f"<div><b>{escape(heading)}</b><br>"
        '<svg role="img" aria-label="curve from 400 nm to 760 nm" viewBox="-14 0 124 58" width="230" '
        'font-size="8" fill="currentColor" font-family="inherit">'
        f'<path d="M{points}" fill="none" stroke="currentColor" stroke-width="1.2"/>'
        '<path d="M0,44.5H90" stroke="currentColor" stroke-opacity="0.5"/>'
        '<text x="0" y="55" text-anchor="middle">400</text><text x="90" y="55" text-anchor="middle">760 nm</text></svg>'
        f"<table><tr><th>believed</th><th>typical</th><th>95 % between</th><th>on what ground</th></tr>{rows}</table>"
        f"<ul>{listed}</ul></div>"
    )


def _spread(belief: Belief) -> str:
    if belief.shape == "fixed" or belief.spread == 0:
        return ""
    low, high = belief.value(np.array([-1.959964, 1.959964]))
    return f"{low:.4g} to {high:.4g}"
