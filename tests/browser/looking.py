"""What is asked of every screen, measured in the page itself: axe's rules, and what axe does not see."""

import json
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT  # type: ignore[import-untyped]
from playwright.sync_api import Page

SIZES = {"tablet": (1024, 768), "phone": (390, 844), "twice as large": (512, 384)}  # 1024×768 at 200 % is 512×384

_AXE = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "rules": {"color-contrast-enhanced": {"enabled": True}},
    "resultTypes": ["violations"],
}
_VIOLATIONS = """(options) => axe.run(document, options).then(({violations}) => violations.map(
    (one) => `${one.id}: ${one.nodes.map((node) => node.target.join(" ")).slice(0, 3).join(", ")}`))"""

# WCAG 2.5.8 asks for 24 px, which axe checks; a gloved hand gets 48 px. A tile is one target with its mark and words.
_MEASURES = """() => {
  const found = [];
  const name = (one) => `${one.tagName.toLowerCase()} “${(one.innerText || one.name || one.id).trim().slice(0, 40)}”`;
  const shown = (one) => one.checkVisibility({visibilityProperty: true}) && one.getBoundingClientRect().width > 1;
  document.activeElement.blur(); // what has the focus already would not be scrolled to again
  const wide = document.documentElement.scrollWidth;
  if (wide > innerWidth) found.push(`scrolls sideways: ${wide} px on ${innerWidth}`);
  const targets = "button, a.button, summary, select, textarea, input:not([type=hidden]), .band a, .waiting-card";
  const all = [...document.querySelectorAll(targets)].filter(shown);
  for (const one of all) {
    const {height} = (one.closest(".tile") ?? one).getBoundingClientRect();
    if (height < 47.99) found.push(`${name(one)} is ${height.toFixed(1)} px high`);
  }
  for (const one of all) {
    if (one.closest(".band") || one.disabled) continue;
    one.focus();
    const {top, bottom, left, width, height} = one.getBoundingClientRect();
    if (height > innerHeight) continue;
    // of a text area the browser shows the line that is written
    const heights = one.matches("textarea") ? [top + 2, top + 24] : [top + 2, (top + bottom) / 2, bottom - 2];
    for (const y of heights) {
      const hit = document.elementFromPoint(left + width / 2, y);
      if (!hit || !(one.contains(hit) || one.closest(".tile")?.contains(hit))) {
        found.push(`${name(one)} is hidden while it has the focus, by ${hit ? name(hit) : "the edge"}`);
        break;
      }
    }
  }
  document.activeElement.blur();
  return found;
}"""


def looked_over(page: Page) -> list[str]:
    """What is wrong with the page as it stands now, at each size; empty when nothing is."""
    found: list[str] = []
    page.evaluate(AXE_SCRIPT)
    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        said: list[Any] = page.evaluate(_VIOLATIONS, _AXE) + page.evaluate(_MEASURES)
        found += [f"{page.url} ({size}): {one}" for one in said]
    return found


def listed(found: list[str]) -> str:
    return json.dumps(found, indent=1, ensure_ascii=False)
