// What comes out of the printer: page numbers that are true, heads that are repeated, edges that are seen.

import assert from "node:assert/strict";
import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import path from "node:path";
import { after, before, describe, test } from "node:test";

import { launch, newPerson } from "./chromium.js";
import { startDemo } from "./demo.js";
import { printed } from "./pdf.js";
import { signIn } from "./people.js";

/** What a print is set in. */
const OURS = ["ShimlightText-Bold", "ShimlightText-Regular"];

/** `bare` is somebody whose browser never gets the face. */
let demo, browser, folder, person, bare;
before(async () => {
  [demo, browser] = await Promise.all([startDemo(), launch()]);
  // PRINTED keeps the pages, to be looked at
  folder = process.env.PRINTED ?? (await mkdtemp(path.join(tmpdir(), "shimlight-paper-")));
  person = await newPerson(browser);
  bare = await newPerson(browser, { noFace: true });
  await signIn(person.page, demo);
  await signIn(bare.page, demo);
});
after(async () => {
  await browser?.close();
  await demo?.stop();
  if (folder && !process.env.PRINTED) await rm(folder, { recursive: true });
});

describe("on paper", () => {
  test("the disposal log counts the pages that come out, and each says what it is", async () => {
    const { page } = person;
    // A5 makes sure of a second page
    for (const format of ["A4", "Letter", "A5"]) {
      const log = await printed(page, `${demo.address}/front/waste/disposal-log`, folder, format);
      assert.ok(log.pages > 1 || format !== "A5", "the demo's log is longer than that");
      log.words.forEach((words, index) => {
        assert.match(words, new RegExp(`Page ${index + 1} of ${log.pages}\\b`), `${format}: ${words}`);
        assert.match(words, /Disposal log 2026, Quillmere darkroom/, `${format}: ${words}`);
        assert.match(words, /Entry\s+When\s+Event/, "the columns are named on every page");
      });
      assert.ok(!/Sheet \d+ of/.test(log.text), "no number of the server's own");
    }
  });

  test("the year's statement is seen whole, and its volumes are no smaller than its silver", async () => {
    const { page } = person;
    await page.setViewportSize({ width: 1200, height: 900 });
    await page.goto(`${demo.address}/front/waste/years/2026`);
    const hidden = () =>
      page.locator(".wide").evaluateAll((tables) => tables.map((it) => it.scrollWidth - it.clientWidth));
    assert.ok((await hidden()).every((px) => px <= 0), `hidden at the side, px: ${await hidden()}`);
    await page.emulateMedia({ media: "print" });
    const sizes = await page.locator("tbody td:has(.note)").first().evaluate((cell) => ({
      volume: Number.parseFloat(getComputedStyle(cell).fontSize),
      silver: Number.parseFloat(getComputedStyle(cell.querySelector(".note")).fontSize),
    }));
    assert.ok(sizes.volume >= sizes.silver, JSON.stringify(sizes));
    await page.emulateMedia({ media: null });
    const statement = await printed(page, `${demo.address}/front/waste/years/2026`, folder);
    assert.equal(statement.pages, 1);
    assert.match(statement.text, /Page 1 of 1/);
  });

  test("what a session needs is two pages to take along, with what it was worked out for", async () => {
    const { page } = person;
    await page.goto(`${demo.address}/front`);
    await page.getByRole("link", { name: "Quillmere afternoon section" }).first().click();
    await page.getByRole("link", { name: /Second light/ }).first().click();
    const needs = await printed(page, `${page.url()}/needs`, folder);
    assert.ok(needs.pages <= 2, `${needs.pages} pages`);
    assert.match(needs.text, /Worked out for \d+ students/);
    assert.ok(!/Sheets for each, strips counted/.test(needs.text), "no form on paper");
    assert.match(needs.words.at(-1), new RegExp(`Page ${needs.pages} of ${needs.pages}`));
  });

  test("a bench card shows its foot, however long its times are", async () => {
    const { page } = person;
    const long = "Maximiliana Konstantinopolitanskaya-Featherstonehaugh de la Fuente y Villanueva-Wolfeschlegelstein";
    // fibre paper at EI 6, nobody has a camera yet: minutes and seconds in every row of the table
    await page.goto(`${demo.address}/front/stockroom/papers/new`);
    await page.getByLabel("Name", { exact: true }).fill("Slow fibre");
    await page.getByLabel("Coated on").selectOption("fibre");
    await page.getByLabel("Exposure index (EI) in daylight").fill("6");
    for (const [label, value] of [["Lowest", "0.5"], ["Best estimate", "1.2"], ["Highest", "2"], ["Carry-over of a drained sheet", "300"]]) {
      await page.getByLabel(label).fill(value);
    }
    await page.getByRole("button", { name: "Put it on the shelf" }).click();
    await page.getByText("Slow fibre").first().waitFor();
    await page.goto(`${demo.address}/front/sections/new`);
    await page.getByLabel("Name", { exact: true }).fill("Six without a camera");
    await page.getByRole("button", { name: "Make the section" }).click();
    await page.getByRole("heading", { level: 1, name: "Six without a camera" }).waitFor();
    const section = new URL(page.url()).pathname;
    await page.goto(`${demo.address}${section}/roster/import`);
    await page.getByLabel("Or paste the lines").fill(["Ada", "Bo", "Cle", "Dot", long, "Fay"].map((name, n) => `0${n + 1},${name} Invented`).join("\n"));
    await page.getByRole("button", { name: "Show what it would change" }).click();
    await page.getByRole("button", { name: /^Take all 6/ }).click();
    await page.goto(`${demo.address}${section}/sessions/new`);
    const title = "Slow light, and what the longest title that somebody may think of does to a card";
    await page.getByLabel("Title").fill(title);
    await page.getByLabel("Date").fill("2026-03-27");
    await page.getByLabel("Paper or film handed out").selectOption({ label: await page.locator("#paper option", { hasText: "Slow fibre" }).innerText() });
    await page.getByRole("button", { name: "Plan it" }).click();
    await page.getByRole("heading", { level: 1, name: title }).waitFor();
    const session = new URL(page.url()).pathname;
    await cardsFit(person, session, 6, OURS);
    await cardsFit(bare, session, 6);
  });

  test("the demo's cards are four to a page, with our face and without it", async () => {
    const session = await secondLight(person.page);
    await cardsFit(person, session, 12, OURS);
    await cardsFit(bare, session, 12);
  });

  /** The path of the session of today. */
  async function secondLight(page) {
    await page.goto(`${demo.address}/front`);
    await page.getByRole("link", { name: "Quillmere afternoon section" }).first().click();
    await page.getByRole("link", { name: /Second light/ }).first().click();
    await page.getByRole("heading", { level: 1, name: "Second light" }).waitFor();
    return new URL(page.url()).pathname;
  }

  /** So many cards with names, and blank ones: each whole, of its own size, four to a page, and one page of backs. */
  async function cardsFit({ page }, session, named, faces) {
    const cards = `${demo.address}${session}/cards`;
    for (const [address, count] of [[cards, named], [`${cards}?blank=1`, 4]]) {
      for (const format of ["A4", "Letter"]) {
        const paper = await printed(page, address, folder, format);
        assert.equal(paper.pages, Math.ceil(count / 4) + 1, `${address}, ${format}`);
        if (faces) assert.deepEqual([...new Set(paper.faces)].sort(), faces, `${address}, ${format}`);
        else assert.ok(paper.faces.every((face) => face.startsWith("DejaVu")), `${address}, ${format}: ${paper.faces}`);
        assert.equal(paper.text.match(/roadway/g)?.length, count, `${address}, ${format}: the care line of each`);
      }
      await page.emulateMedia({ media: "print" });
      const sizes = await page.locator(".bench-card, .card-back").evaluateAll((cards) =>
        cards.map((card) => {
          const frame = card.getBoundingClientRect();
          const parts = [...card.children].map((part) => part.getBoundingClientRect());
          const rows = card.querySelector(".card-fill");
          return {
            content: card.scrollHeight - card.clientHeight,
            sideways: card.scrollWidth - card.clientWidth,
            below: parts.at(-1).bottom - frame.bottom,
            overlaps: parts.some((part, n) => n > 0 && part.top < parts[n - 1].bottom - 0.5),
            rows: rows ? rows.scrollHeight - rows.clientHeight : 0,
            mm: [frame.width, frame.height].map((px) => Math.round((px * 254) / 96) / 10),
          };
        }),
      );
      await page.emulateMedia({ media: null });
      assert.equal(sizes.length, count + 4);
      for (const size of sizes) {
        const { content, sideways, below, overlaps, rows, mm } = size;
        assert.ok(content <= 0 && sideways <= 0 && below <= 0 && rows <= 0 && !overlaps, `${address}: ${JSON.stringify(size)}`);
        assert.deepEqual(mm, [98, 131], address);
      }
    }
  }

  test("everything else for the session fits its pages, with our face and without it", async () => {
    const session = await secondLight(person.page);
    for (const [{ page }, faces] of [[person, OURS], [bare, null]]) {
      for (const format of ["A4", "Letter"]) {
        for (const [what, pages] of [["poster", 1], ["tray-labels", 2], ["prep", 2], ["needs", 2], ["marks", 2]]) {
          const paper = await printed(page, `${demo.address}${session}/${what}`, folder, format);
          assert.ok(paper.pages <= pages, `${what}, ${format}: ${paper.pages} pages instead of ${pages}`);
          if (faces) assert.ok(paper.faces.every((face) => faces.includes(face)), `${what}, ${format}: ${paper.faces}`);
        }
      }
    }
  });

  test("a page is not there before its face is, so that no print comes out in another", async () => {
    const { page, context } = await newPerson(browser);
    let come;
    const kept = new Promise((resolve) => (come = resolve));
    await context.route("**/*.woff2", async (route) => {
      await kept;
      await route.continue();
    });
    const going = printed(page, `${demo.address}/`, folder);
    await page.locator("footer").waitFor({ state: "attached" });
    assert.notEqual(await page.evaluate(() => document.readyState), "complete", "it waits for its face");
    come();
    const door = await going;
    assert.ok(door.faces.length > 0 && door.faces.every((face) => OURS.includes(face)), `${door.faces}`);
    await context.close();
  });

  test("the label of a container has an edge that is seen across a room", async () => {
    const { page } = person;
    await page.goto(`${demo.address}/front/waste`);
    const container = page.locator('a[href^="/front/waste/containers/"]:not([href$="new"])').first();
    const label = await printed(page, `${demo.address}${await container.getAttribute("href")}/label`, folder);
    assert.equal(label.pages, 1);
    await page.emulateMedia({ media: "print" });
    const edge = await page.locator(".vessel-label").evaluate((it) => {
      const { borderTopStyle, borderTopWidth } = getComputedStyle(it);
      return { style: borderTopStyle, px: Number.parseFloat(borderTopWidth) };
    });
    assert.ok(edge.style === "solid" && edge.px >= 2.5, JSON.stringify(edge));
    await page.emulateMedia({ media: null });
  });
});
