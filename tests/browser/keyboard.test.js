// A student's whole evening with the keyboard alone: Tab, arrows, Space, Enter, and letters.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";

import { launch, newPerson } from "./chromium.js";
import { startDemo } from "./demo.js";

let demo, browser;
before(async () => {
  [demo, browser] = await Promise.all([startDemo(), launch()]);
});
after(async () => {
  await browser?.close();
  await demo?.stop();
});

/** What has the focus, as a screen reader would name it, and whether the focus can be seen. */
function focused(page) {
  return page.evaluate(() => {
    const here = document.activeElement;
    const label = here.labels?.[0]?.firstChild?.textContent ?? "";
    const style = getComputedStyle(here);
    const name = here.getAttribute("aria-label") ?? (label || here.textContent);
    const seen = (style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0) || here.tagName === "BODY";
    return { tag: here.tagName, kind: here.type ?? "", name: name.trim().replace(/\s+/g, " "), seen };
  });
}

/** Presses Tab until the named thing has the focus; every stop on the way must show its focus. */
async function tabTo(page, name, most = 120) {
  for (let step = 0; step < most; step += 1) {
    await page.keyboard.press("Tab");
    const here = await focused(page);
    assert.ok(here.seen, `the focus cannot be seen on ${JSON.stringify(here)} of ${page.url()}`);
    if (typeof name === "string" ? here.name === name : name.test(here.name)) return here;
  }
  throw new Error(`${name} is not reached with Tab on ${page.url()}`);
}

async function press(page, name) {
  await tabTo(page, name);
  await Promise.all([page.waitForNavigation(), page.keyboard.press("Enter")]);
}

async function type(page, name, text) {
  await tabTo(page, name);
  await page.keyboard.press("Control+a");
  await page.keyboard.type(text);
}

test("a student's evening with the keyboard alone", async () => {
  const { page, troubles, context } = await newPerson(browser);
  await page.goto(demo.address);
  await type(page, "Door code", demo.doorCode);
  await type(page, "Roster number", demo.rosterNumber);
  await type(page, "Family name", demo.familyName);
  await Promise.all([page.waitForNavigation(), page.keyboard.press("Enter")]);
  await press(page, "It is on paper");
  // the first thing Tab finds leads past the links to the page itself
  await page.keyboard.press("Tab");
  assert.equal((await focused(page)).name, "Skip to the page");
  await press(page, "Go to the camera");

  await tabTo(page, /A box: hole in one wall/);
  await page.keyboard.press("ArrowDown");
  await page.keyboard.press("ArrowUp");
  await type(page, "Hole to film", "128");
  await type(page, "Film width", "127");
  await type(page, "Film height", "102");
  await press(page, "Save and show the hole to make");
  await press(page, "Next: make the hole");
  await type(page, "First reading", "0.50");
  await type(page, "Second reading", "0.51");
  await press(page, "Save this hole");
  assert.match(await page.locator("main").innerText(), /f\/25\d/);

  await press(page, "Now");
  await press(page, "Load a sheet");
  await press(page, "Loaded: we go outside");
  await press(page, "Shutter clock");
  await press(page, "Write down what was done");
  await type(page, "How long it was open", "30");
  await type(page, /Meter reading/, "EV 15");
  await press(page, "Record the sheet");
  assert.match(await page.locator("h1").innerText(), /^Sheet \d+/);
  await press(page, "Now");
  await press(page, "Into the dark room, to the trays");
  await press(page, "Say how it came out");

  await press(page, "Report");
  await tabTo(page, /report|your text|what/i);
  await press(page, "Leave this seat");
  assert.match(await page.locator("h1").innerText(), /Sign in|Left/i);
  assert.deepEqual(troubles, []);
  await context.close();
});
