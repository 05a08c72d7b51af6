"""The small drawings beside the words of a chart's legend."""

from __future__ import annotations

KEYS = {
    "positive": '<circle cx="12" cy="8" r="4.5" fill="#1a1a1a" stroke="#1a1a1a" stroke-width="1.6"/>',
    "negative": '<circle cx="12" cy="8" r="4.5" fill="#fff" stroke="#1a1a1a" stroke-width="1.6"/>',
    "inconclusive": '<path d="M8 4l8 8M16 4l-8 8" stroke="#1a1a1a" stroke-width="1.8"/>',
    "unsure": '<path d="M12 2.5l5.5 5.5-5.5 5.5L6.5 8z" fill="#fff" stroke="#1a1a1a" stroke-width="1.6"/>',
    "interval": '<path d="M12 2v12M9 2h6M9 14h6" stroke="#1a1a1a" stroke-width="1.5"/>',
    "limit": '<path d="M7 2h10M12 2v11M9 9.5l3 3.5 3-3.5" fill="none" stroke="#1a1a1a" stroke-width="1.5"/>',
    "given": '<path d="M12 2v12" stroke="#1a1a1a" stroke-width="2.6"/>',
    "not-given": '<path d="M7 4h10l-5 8z" fill="#fff" stroke="#1a1a1a" stroke-width="1.5"/>',
    "weight": '<path d="M2 11L22 5" stroke="#1a1a1a" stroke-width="1.3"/>'
    '<path d="M9.5 5.5h5v5h-5z" fill="#1a1a1a"/>',
    "wait": '<path d="M2 14L10 2M8 14L16 2M14 14L22 2" stroke="#8c8c8c" stroke-width="1.1"/>',
    "pause": '<path d="M2 3h20M2 8h20M2 13h20" stroke="#8c8c8c" stroke-width="1.1"/>',
    "next": '<path d="M12 1v14" stroke="#1a1a1a" stroke-width="1.5" stroke-dasharray="4 2"/>',
    "today": '<path d="M12 1v14" stroke="#6b6b6b" stroke-width="1.3" stroke-dasharray="1 2"/>',
}


def legend_key(kind: str) -> str:
    """Return the small drawing that stands beside a word of the legend."""
    return f'<svg class="legend-key" viewBox="0 0 24 16" aria-hidden="true">{KEYS[kind]}</svg>'
