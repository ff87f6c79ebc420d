"""Every page of each role under axe, and our own sizes: targets, sideways scrolling, labels.

Checked with axe-core (the rules of WCAG 2.2 A and AA); target sizes are those of the look: 64 px on the floor, where a
hand is chalky, 44 px elsewhere.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests import make_full_day
from tests.journeys.stage import Device, Stage
from tests.make_full_day import MIDDAY, FullDay
from tests.routes import Visit, visits

pytestmark = pytest.mark.browser
WIDTHS = (744, 820, 1133, 1180, 1440)
ROLES = ("desk", "instructor", "owner", "")
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}
# Ends the visit, or answers with no page of its own.
NOT_PAGES = {"studio:logout", "studio:healthz", "studio:api-schema"}

# Links and controls that are seen and smaller than `least` either way. A link inside a sentence is left out, as in
# WCAG 2.2 SC 2.5.8; so is one whose row, label or stretched area around it is large enough to be hit, and a link drawn
# in a picture, for the list behind the picture has it too (the criterion's "equivalent").
SMALL = """(least) => {
  const found = [];
  const seen = (box, style) =>
    box.width > 1 && box.height > 1 && style.visibility !== "hidden" && style.opacity !== "0";
  for (const one of document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")) {
    const style = getComputedStyle(one);
    let box = one.getBoundingClientRect();
    if (!seen(box, style) || one.closest(".unseen, .skip, svg") || one.disabled) continue;
    const label = one.closest("label") || (one.id && document.querySelector(`label[for="${CSS.escape(one.id)}"]`));
    if (label && ["radio", "checkbox"].includes(one.type)) box = label.getBoundingClientRect();
    const inSentence = style.display.startsWith("inline") && !style.display.includes("flex") &&
      one.tagName === "A" && !one.matches("nav *, .btn");
    if (inSentence) continue;
    const after = getComputedStyle(one, "::after"), grown = (side) => Math.min(0, parseFloat(after[side]) || 0);
    const stretches = after.position === "absolute" && after.content !== "none";
    const height = box.height - (stretches ? grown("top") + grown("bottom") : 0);
    const width = box.width - (stretches ? grown("left") + grown("right") : 0);
    if (Math.min(height, width) + 0.5 < least)
      found.push(`${one.tagName} "${(one.innerText || one.name || one.className).slice(0, 40)}" ` +
        `${Math.round(width)}x${Math.round(height)}`);
  }
  return found;
}"""
UNLABELLED = """() => [...document.querySelectorAll("input:not([type=hidden]), select, textarea")]
  .filter((one) => !one.labels?.length && !one.getAttribute("aria-label") && !one.getAttribute("aria-labelledby"))
  .map((one) => one.outerHTML.slice(0, 120))"""


@dataclass
class Walk:
    stage: Stage
    full: FullDay
    devices: dict[str, Device]

    def pages(self, role: str) -> Iterator[tuple[Visit, Page]]:
        """Each page that is open to the role, shown; parts that a page fetches by itself are on that page."""
        device = self.devices[role]
        for visit in visits(self.full):
            if visit.role == role and visit.route not in NOT_PAGES and is_page(device, visit):
                device.go(visit.address)
                device.page.wait_for_load_state("networkidle") if device.page.locator(
                    "[hx-trigger=load]"
                ).count() else None
                yield visit, device.page


def is_page(device: Device, visit: Visit) -> bool:
    """Whether a plain visit answers with a whole page, and not with a part, a redirect or a refusal of the verb."""
    answer = device.context.request.get(f"{device.home}{visit.address}", max_redirects=0)
    return answer.ok and "text/html" in answer.headers.get("content-type", "") and "<html" in answer.text()


@pytest.fixture(scope="module")
def walk(stage: Stage) -> Walk:
    full = make_full_day.build(full=False)
    stage.at(MIDDAY)
    devices = {role: stage.device(role or "nobody", "stand" if role == "instructor" else "screen") for role in ROLES}
    for role, person in full.people.items():
        devices[role].log_in(person.email)
    return Walk(stage, full, devices)


def test_axe_sees_a_fault_when_there_is_one(walk):
    page = walk.devices[""].go("/login/")
    page.evaluate("document.querySelector('main').append(document.createElement('input'))")
    assert any("label" in fault for fault in serious(Axe().run(page, options=RULES).response))
    assert page.evaluate(UNLABELLED)


@pytest.mark.parametrize("role", ROLES)
def test_axe_finds_no_serious_fault_on_any_page(walk, role):
    axe, faults, seen = Axe(), {}, 0
    for visit, page in walk.pages(role):
        seen += 1
        if found := serious(axe.run(page, options=RULES).response):
            faults[visit.route] = found
    assert faults == {}
    assert seen >= 5


def serious(answer: dict[str, Any]) -> list[str]:
    return [
        f"{fault['id']}: {fault['help']}: {fault['nodes'][0]['html'][:160]}"
        for fault in answer["violations"]
        if fault["impact"] in ("serious", "critical")
    ]


@pytest.mark.parametrize("role", ROLES)
def test_targets_are_large_enough_for_the_hand_that_uses_them_and_every_control_has_a_name(walk, role):
    small, nameless = {}, {}
    for visit, page in walk.pages(role):
        least = 64 if page.locator(".floorbar").count() else 44
        if found := page.evaluate(SMALL, least):
            small[visit.route] = sorted(set(found))
        if found := page.evaluate(UNLABELLED):
            nameless[visit.route] = found
    assert nameless == {}
    assert not small, "\n".join(f"{route}: {one}" for route, found in small.items() for one in found)


@pytest.mark.parametrize("role", ROLES)
def test_no_page_scrolls_sideways_in_any_width_it_is_used_in(walk, role):
    device, wide = walk.devices[role], []
    for visit, page in walk.pages(role):
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            if device.overflow() > 0:
                wide.append((visit.route, width, device.overflow()))
    assert wide == []


def test_the_form_is_walked_by_the_tab_key_in_the_order_it_is_read(walk):
    device = walk.devices[""]
    page = device.go(walk.full.address("clients:form-screen", {"token": None, "screen_id": None}))
    wanted = page.evaluate(
        "[...document.querySelectorAll('main a, main input:not([type=hidden]), main textarea, main button')]"
        ".filter((one, at, all) => one.type !== 'radio' || one.checked || !all.some("
        "(other) => other.name === one.name && (other.checked || all.indexOf(other) < at)))"
        ".map((one) => one.id || one.name || one.innerText)"
    )
    page.locator("body").focus()
    reached: list[str] = []
    while wanted and (not reached or reached[-1] != wanted[-1]) and len(reached) < 40:
        page.keyboard.press("Tab")
        reached.append(
            page.evaluate(
                "document.activeElement.id || document.activeElement.name || document.activeElement.innerText"
            )
        )
    assert [one for one in reached if one in wanted] == wanted
