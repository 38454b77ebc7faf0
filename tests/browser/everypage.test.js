// Every page that links reach, for each person: the HTML validates, the accessibility rules find
// nothing in either theme, nothing sticks out of a phone's screen, and every word is in our face.

import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import path from "node:path";
import { after, before, describe, test } from "node:test";
import assert from "node:assert/strict";

import { launch, newPerson, PHONE } from "./chromium.js";
import { signIn, takeSeat } from "./people.js";
import { startDemo } from "./demo.js";
import { otherFaces } from "./faces.js";
import { accessibilityFaults, htmlFaults } from "./rules.js";

/** So many pages that differ only in ids are looked at: a first one and one that may be odd. */
const ALIKE = 2;

let demo, browser;
before(async () => {
  demo = await startDemo();
  browser = await launch();
});
after(async () => {
  await browser?.close();
  await demo?.stop();
});

/** Where a page is in the pattern of pages: ids left out. */
function pattern(url) {
  const { pathname, searchParams } = new URL(url);
  const keys = [...searchParams.keys()].filter((key) => key !== "then").sort();
  return pathname.replace(/[0-9a-f]{8}-[0-9a-f-]{27}/g, "{id}") + (keys.length ? `?${keys.join("&")}` : "");
}

/** Opens every page that can be reached from `start` by links, `visit`s it, and gives the patterns seen. */
async function walk(page, start, visit, faults) {
  const waiting = [start];
  const seen = new Set(waiting.map((url) => url.split("#")[0]));
  const counts = new Map();
  while (waiting.length > 0) {
    const url = waiting.shift();
    const kind = pattern(url);
    if ((counts.get(kind) ?? 0) >= ALIKE) continue;
    counts.set(kind, (counts.get(kind) ?? 0) + 1);
    const answer = await page.request.get(url);
    if (answer.status() !== 200) {
      faults.push(`${kind} is linked to but answers ${answer.status()}: ${url}`);
      continue;
    }
    if (!(answer.headers()["content-type"] ?? "").startsWith("text/html")) continue;
    // opened by the visit: each page takes the server and the browser a while
    await visit(url, kind, await answer.text());
    for (const href of await page.locator("a[href]").evaluateAll((links) => links.map((link) => link.href))) {
      const target = href.split("#")[0];
      if (target.startsWith(demo.address) && !seen.has(target)) {
        seen.add(target);
        waiting.push(target);
      }
    }
  }
  return [...counts.keys()];
}

/** What hides a part of what is in it, as `TAG.class`. */
async function cutOff(page) {
  return await page.evaluate(() =>
    [...document.querySelectorAll("body *")]
      .filter((it) => {
        const style = getComputedStyle(it);
        const hides = style.overflowX === "hidden" || style.overflowY === "hidden" || style.overflowX === "clip";
        // what only a screen reader is told is one pixel in size
        const seen = it.clientWidth > 1 && it.clientHeight > 1 && !it.closest("svg");
        return hides && seen && (it.scrollWidth > it.clientWidth + 1 || it.scrollHeight > it.clientHeight + 1);
      })
      .map((it) => it.tagName + "." + it.className),
  );
}

/** What sticks out or is cut off when everything is shown at twice its size (WCAG 2.2, 1.4.4 and 1.4.10):
    first as a browser zooms, which halves a window of 1280 px; then the words alone. */
async function faultsAtTwiceTheSize(page) {
  const faults = [];
  const overflow = () => page.evaluate(() => document.scrollingElement.scrollWidth - window.innerWidth);
  await page.setViewportSize({ width: 640, height: 400 });
  if ((await overflow()) > 0) faults.push(`zoomed, it is ${await overflow()} px too wide`);
  await page.setViewportSize({ width: 1280, height: 800 });
  await page.evaluate(() => document.documentElement.style.setProperty("font-size", "200%"));
  if ((await overflow()) > 0) faults.push(`with larger words, it is ${await overflow()} px too wide`);
  const cut = await cutOff(page);
  if (cut.length > 0) faults.push(`with larger words, ${cut.join(", ")} is cut off`);
  await page.evaluate(() => document.documentElement.style.removeProperty("font-size"));
  return faults;
}

async function lookAtEverything(page, troubles, start) {
  const folder = await mkdtemp(path.join(tmpdir(), "shimlight-pages-"));
  const files = new Map();
  const faults = [];
  try {
    const kinds = await walk(page, start, async (url, kind, html) => {
      const file = path.join(folder, `${files.size}.html`);
      await writeFile(file, html);
      files.set(file, kind);
      for (const theme of ["light", "dim"]) {
        await page.context().addCookies([{ name: "shimlight_theme", value: theme, url: demo.address }]);
        await page.goto(url);
        for (const fault of await accessibilityFaults(page)) faults.push(`${kind} (${theme}) ${fault}`);
      }
      for (const words of await otherFaces(page)) faults.push(`${kind}: ${words}`);
      const size = page.viewportSize();
      await page.setViewportSize(PHONE);
      const width = await page.evaluate(() => document.scrollingElement.scrollWidth);
      if (width > PHONE.width) faults.push(`${kind} is ${width} px wide on a phone of ${PHONE.width} px`);
      faults.push(...(await faultsAtTwiceTheSize(page)).map((fault) => `${kind} at 200 %: ${fault}`));
      await page.setViewportSize(size);
      await page.emulateMedia({ media: "print" });
      const cut = await cutOff(page);
      if (cut.length > 0) faults.push(`${kind} on paper: ${cut.join(", ")} is cut off`);
      await page.emulateMedia({ media: "screen" });
      await page.context().addCookies([{ name: "shimlight_theme", value: "light", url: demo.address }]);
    }, faults);
    faults.push(...(await htmlFaults(files)), ...troubles);
    assert.deepEqual(faults, [], `${faults.length} faults:\n${faults.join("\n")}`);
    return kinds;
  } finally {
    await rm(folder, { recursive: true });
  }
}

describe("every page", () => {
  test("before anybody signs in", async () => {
    const { page, troubles, context } = await newPerson(browser);
    const kinds = await lookAtEverything(page, troubles, `${demo.address}/`);
    console.log(`looked at: ${kinds.join(" ")}`);
    await context.close();
  });

  test("of a student at the bench", async () => {
    const { page, troubles, context } = await newPerson(browser);
    await takeSeat(page, demo);
    const kinds = await lookAtEverything(page, troubles, `${demo.address}/bench`);
    assert.ok(kinds.includes("/bench/exposures"), kinds.join(" "));
    console.log(`looked at: ${kinds.join(" ")}`);
    await context.close();
  });

  test("of the instructor at the front bench", async () => {
    const { page, troubles, context } = await newPerson(browser);
    await signIn(page, demo);
    const kinds = await lookAtEverything(page, troubles, `${demo.address}/front`);
    assert.ok(kinds.includes("/front/waste"), kinds.join(" "));
    console.log(`looked at: ${kinds.join(" ")}`);
    await context.close();
  });
});
