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

let demo, browser, folder, person;
before(async () => {
  [demo, browser] = await Promise.all([startDemo(), launch()]);
  // PRINTED keeps the pages, to be looked at
  folder = process.env.PRINTED ?? (await mkdtemp(path.join(tmpdir(), "shimlight-paper-")));
  person = await newPerson(browser);
  await signIn(person.page, demo);
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
    await page.getByLabel("Or paste the lines").fill(["Ada", "Bo", "Cle", "Dot", "Eli", "Fay"].map((name, n) => `0${n + 1},${name} Invented`).join("\n"));
    await page.getByRole("button", { name: "Show what it would change" }).click();
    await page.getByRole("button", { name: /^Take all 6/ }).click();
    await page.goto(`${demo.address}${section}/sessions/new`);
    await page.getByLabel("Title").fill("Slow light");
    await page.getByLabel("Date").fill("2026-03-27");
    await page.getByLabel("Paper or film handed out").selectOption({ label: await page.locator("#paper option", { hasText: "Slow fibre" }).innerText() });
    await page.getByRole("button", { name: "Plan it" }).click();
    await page.getByRole("heading", { level: 1, name: "Slow light" }).waitFor();
    const cards = `${page.url()}/cards`;
    for (const [address, count] of [[cards, 6], [`${cards}?blank=1`, 4]]) {
      for (const format of ["A4", "Letter"]) {
        const paper = await printed(page, address, folder, format);
        assert.equal(paper.pages, Math.ceil(count / 4) + 1, `${address}, ${format}`);
        for (const words of [/Coated side\s+towards the hole; developer/g, /Never look at the sun/g, /Used fixer: waste container/g]) {
          assert.equal(paper.text.match(words)?.length, count, `${address}, ${format}: ${words}`);
        }
      }
      await page.emulateMedia({ media: "print" });
      const sizes = await page.locator(".bench-card").evaluateAll((cards) =>
        cards.map((card) => {
          const feet = [...card.children].at(-1).getBoundingClientRect();
          return { content: card.scrollHeight, frame: card.clientHeight, below: feet.bottom - card.getBoundingClientRect().bottom, mm: (card.offsetHeight * 25.4) / 96 };
        }),
      );
      await page.emulateMedia({ media: null });
      assert.equal(sizes.length, count);
      for (const size of sizes) {
        assert.ok(size.content <= size.frame && size.below <= 0 && size.mm <= 131.5, `${address}: ${JSON.stringify(size)}`);
      }
    }
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
