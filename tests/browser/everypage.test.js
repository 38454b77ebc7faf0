// Every page that links reach, for each person: the HTML validates, the accessibility rules find nothing in either
// theme, nothing sticks out of a phone's screen or of a zoomed window, nothing is cut off, and every word is in our face.

import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import path from "node:path";
import { after, before, describe, test } from "node:test";
import assert from "node:assert/strict";

import { launch, newPerson, PHONE } from "./chromium.js";
import { signIn, takeSeat } from "./people.js";
import { startDemo } from "./demo.js";
import { otherFaces } from "./faces.js";
import { accessibilityFaults, htmlFaults, OF_COLOURS } from "./rules.js";
import { switchToDim } from "./themes.js";

/** So many pages that differ only in ids are looked at: a first one and one that may be odd. */
const ALIKE = 2;

/** So many pages are looked at at once, each in a tab of its own. */
const TABS = 2;

/** The window that the success criteria of WCAG 2.2 zoom into. */
const WINDOW = { width: 1280, height: 800 };

/** `files` are the pages as they came, each with the name it is told by. */
let demo, browser, folder;
const files = new Map();
before(async () => {
  [demo, browser] = await Promise.all([startDemo(), launch()]);
  folder = await mkdtemp(path.join(tmpdir(), "shimlight-pages-"));
});
after(async () => {
  await browser?.close();
  await demo?.stop();
  if (folder) await rm(folder, { recursive: true });
});

/** Where a page is in the pattern of pages: ids left out. */
function pattern(url) {
  const { pathname, searchParams } = new URL(url);
  const keys = [...searchParams.keys()].filter((key) => key !== "then").sort();
  return pathname.replace(/[0-9a-f]{8}-[0-9a-f-]{27}/g, "{id}") + (keys.length ? `?${keys.join("&")}` : "");
}

/** Looks at every page that can be reached from `start` by links; gives the patterns seen and the faults. */
async function walk(tabs, start, look) {
  const seen = new Set([start]);
  const counts = new Map();
  const faults = [];
  let reached = [start];
  while (reached.length > 0) {
    // chosen before any of them is looked at, so that it is the same ones whichever tab is faster
    const chosen = reached.filter((url) => {
      const kind = pattern(url);
      counts.set(kind, (counts.get(kind) ?? 0) + 1);
      return counts.get(kind) <= ALIKE;
    });
    const found = [];
    const waiting = [...chosen.entries()];
    const inATab = async (page) => {
      for (let next; (next = waiting.shift()); ) {
        const [place, url] = next;
        found[place] = await look(page, url, pattern(url)).catch((error) => {
          throw new Error(`${url}: ${error.message}`, { cause: error });
        });
      }
    };
    await Promise.all(tabs.map(inATab));
    faults.push(...found.flatMap((page) => page.faults));
    reached = [];
    for (const target of found.flatMap((page) => page.links.map((href) => href.split("#")[0]))) {
      if (!target.startsWith(demo.address) || seen.has(target)) continue;
      seen.add(target);
      reached.push(target);
    }
  }
  return { kinds: [...counts.keys()], faults };
}

/** What hides a part of what is in it, as `TAG.class, TAG.class is cut off`; nothing when nothing does. */
async function cutOff(page) {
  const cut = await page.evaluate(() =>
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
  return cut.length > 0 ? [`${cut.join(", ")} is cut off`] : [];
}

/** How far the page is wider than its window, in pixels; not above 0 when it fits. */
const overflow = (page) => page.evaluate(() => document.scrollingElement.scrollWidth - window.innerWidth);

/** What is wrong with a page as a browser shows it, in either theme, in every size and on paper. */
async function faultsOf(page, light, dim) {
  const faults = [];
  const say = (about, found) => faults.push(...found.map((fault) => `${about} ${fault}`));
  const { themed, otherwise } = await switchToDim(page, light, dim, async () =>
    say("(light)", await accessibilityFaults(page, OF_COLOURS)),
  );
  say("in the dim theme is more than switched:", otherwise);
  // in the dim theme there is more to look at, a warning, and nothing less
  say(themed ? "(dim)" : "(without themes)", await accessibilityFaults(page));
  say("has", await otherFaces(page));

  // shown at twice its size (WCAG 2.2, 1.4.4 and 1.4.10): the words alone, then as a browser zooms, which halves the window
  await page.evaluate(() => document.documentElement.style.setProperty("font-size", "200%"));
  const wide = await overflow(page);
  if (wide > 0) say("at 200 %:", [`with larger words, it is ${wide} px too wide`]);
  say("at 200 %:", (await cutOff(page)).map((cut) => `with larger words, ${cut}`));
  await page.evaluate(() => document.documentElement.style.removeProperty("font-size"));
  await page.emulateMedia({ media: "print" });
  say("on paper:", await cutOff(page));
  await page.emulateMedia({ media: "screen" });
  await page.setViewportSize({ width: WINDOW.width / 2, height: WINDOW.height / 2 });
  const zoomed = await overflow(page);
  if (zoomed > 0) say("at 200 %:", [`zoomed, it is ${zoomed} px too wide`]);
  await page.setViewportSize(PHONE);
  const width = await page.evaluate(() => document.scrollingElement.scrollWidth);
  if (width > PHONE.width) say("is", [`${width} px wide on a phone of ${PHONE.width} px`]);
  await page.setViewportSize(WINDOW);
  return faults;
}

async function lookAt(page, url, kind) {
  const cookies = await page.context().cookies(url);
  const cookie = [...cookies.map(({ name, value }) => `${name}=${value}`), "shimlight_theme=dim"].join("; ");
  const answer = await page.request.get(url, { headers: { cookie } });
  if (answer.status() !== 200) {
    return { links: [], faults: [`${kind} is linked to but answers ${answer.status()}: ${url}`] };
  }
  if (!(answer.headers()["content-type"] ?? "").startsWith("text/html")) return { links: [], faults: [] };
  const opened = await page.goto(url);
  const html = await opened.text();
  const file = path.join(folder, `${files.size}.html`);
  files.set(file, kind);
  await writeFile(file, html);
  const faults = await faultsOf(page, html, await answer.text());
  const links = await page.evaluate(() => [...document.querySelectorAll("a[href]")].map((link) => link.href));
  return { links, faults: faults.map((fault) => `${kind} ${fault}`) };
}

/** Looks at everything that whoever `enter`s finds from `start` on; gives the patterns seen. */
async function lookAtEverything(enter, start) {
  const { context, page, troubles } = await newPerson(browser, { viewport: WINDOW });
  await enter(page, demo);
  const tabs = [page];
  while (tabs.length < TABS) tabs.push(await context.newPage());
  // a switched theme is there at once: no colour is looked at while it changes
  for (const tab of tabs) await tab.emulateMedia({ reducedMotion: "reduce" });
  const { kinds, faults } = await walk(tabs, `${demo.address}${start}`, lookAt);
  faults.push(...troubles);
  console.log(`looked at: ${kinds.join(" ")}`);
  assert.deepEqual(faults, [], `${faults.length} faults:\n${faults.join("\n")}`);
  await context.close();
  return kinds;
}

describe("every page", () => {
  test("before anybody signs in", async () => {
    await lookAtEverything(async () => {}, "/");
  });

  test("of a student at the bench", async () => {
    const kinds = await lookAtEverything(takeSeat, "/bench");
    assert.ok(kinds.includes("/bench/exposures"), kinds.join(" "));
  });

  test("of the instructor at the front bench", async () => {
    const kinds = await lookAtEverything(signIn, "/front");
    assert.ok(kinds.includes("/front/waste"), kinds.join(" "));
  });

  // one start of the validator for the pages of all of them
  test("of all of them is valid HTML", async () => {
    assert.ok(files.size > 0, "nobody looked at a page before");
    const faults = await htmlFaults(files);
    assert.deepEqual(faults, [], `${faults.length} faults:\n${faults.join("\n")}`);
  });
});
