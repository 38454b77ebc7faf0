// Marking in one table, fast and by two at once; a report that saves itself while the line is down.

import assert from "node:assert/strict";
import { execFile } from "node:child_process";
import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import path from "node:path";
import { after, before, describe, test } from "node:test";
import { promisify } from "node:util";

import { PHONE, launch, newPerson } from "./chromium.js";
import { startDemo } from "./demo.js";
import { signIn, takeSeat } from "./people.js";

let demo, browser;
before(async () => {
  [demo, browser] = await Promise.all([startDemo(), launch()]);
});
after(async () => {
  await browser?.close();
  await demo?.stop();
});

/** Opens the table of marks of the session that is over. */
async function openMarks(page) {
  await page.getByRole("link", { name: "Quillmere afternoon section" }).first().click();
  await page.getByRole("link", { name: "First light" }).first().click();
  await page.getByRole("link", { name: "Marks", exact: true }).click();
  await page.getByRole("heading", { level: 1, name: "Marks" }).waitFor();
}

const cell = (page, criterion, number) => page.getByLabel(`${criterion}, number ${number}`, { exact: true });
const saved = (page) => page.locator("#kept", { hasText: "All saved at" }).waitFor();

describe("the table of marks", () => {
  test("saves each cell as it is left, moves by keys, takes what the record suggests", async () => {
    const { page, troubles, context } = await newPerson(browser);
    await signIn(page, demo);
    await openMarks(page);
    await cell(page, "Negative", "04").fill("2.5");
    await cell(page, "Negative", "04").press("Enter");
    await saved(page);
    const focused = await page.evaluate(() => document.activeElement.name.slice(0, 7));
    assert.equal(focused, "points-", "the next student's cell");
    await page.reload();
    assert.equal(await cell(page, "Negative", "04").inputValue(), "2.5");

    await cell(page, "Exposures", "01").fill("0");
    await cell(page, "Exposures", "01").press("ArrowDown");
    await page.getByText("say why you give something else").waitFor();
    await page.keyboard.type("The times were guessed.");
    await page.keyboard.press("Tab");
    await saved(page);
    await cell(page, "Exposures", "01").focus();
    const sent = page.waitForResponse((answer) => answer.request().method() === "POST");
    await page.keyboard.press("s");
    assert.equal((await sent).status(), 200);
    await page.reload();
    assert.equal(await cell(page, "Exposures", "01").inputValue(), "3");
    assert.deepEqual(troubles.filter((trouble) => !trouble.includes("422")), []);
    await context.close();
  });

  test("shows what the other marker changed and loses neither mark", async () => {
    const one = await newPerson(browser);
    const two = await newPerson(browser);
    // the other has not looked again yet when it marks, however long the first takes
    const lookingAgain = (url) => url.pathname.endsWith("/marks/now");
    await two.page.route(lookingAgain, (route) => route.abort());
    for (const person of [one, two]) {
      await signIn(person.page, demo);
      await openMarks(person.page);
    }
    await cell(one.page, "Safe hands", "04").fill("1");
    await cell(one.page, "Safe hands", "04").press("Enter");
    await saved(one.page);
    // the other still shows the cell empty, and marks it differently
    await cell(two.page, "Safe hands", "04").fill("0.5");
    await cell(two.page, "Safe hands", "04").press("Enter");
    await two.page.getByText("gave 1 meanwhile").waitFor();
    await two.page.unroute(lookingAgain);
    assert.equal(await cell(two.page, "Safe hands", "04").inputValue(), "0.5", "what was typed stays in sight");
    await two.page.getByRole("button", { name: "Put mine" }).click();
    await saved(two.page);
    // the first is shown the change by itself, in a cell nobody is typing into
    await one.page.locator(".beside", { hasText: "changed by" }).first().waitFor();
    assert.equal(await cell(one.page, "Safe hands", "04").inputValue(), "0.5");
    await one.context.close();
    await two.context.close();
  });
});

describe("the sheet of marks", () => {
  /** Where something stands on the screen, once the table is scrolled all the way to its end. */
  const atTheEnd = (page, selector) =>
    page.evaluate((selector) => {
      const region = document.querySelector(".marking .wide");
      region.scrollLeft = region.scrollWidth;
      const [part, frame] = [document.querySelector(selector), region].map((it) => it.getBoundingClientRect());
      return part.left >= frame.left - 1 && part.right <= frame.right + 1;
    }, selector);

  test("keeps the student and what it comes to in sight, on a desk and on a phone", async () => {
    const { page, context } = await newPerson(browser);
    await signIn(page, demo);
    await openMarks(page);
    for (const viewport of [{ width: 1200, height: 900 }, PHONE]) {
      await page.setViewportSize(viewport);
      for (const part of ["tbody tr:last-child th", "tbody tr:last-child .total", "tbody tr:last-child .state"]) {
        assert.ok(await atTheEnd(page, part), `${part} at ${viewport.width} px`);
      }
    }
    // eleven criteria beside the two on a desk take little more than the screen
    await page.setViewportSize({ width: 1200, height: 900 });
    const wide = await page.evaluate(() => document.querySelector(".marking table").scrollWidth);
    assert.ok(wide < 1600, `${wide} px`);
    // whoever goes by keys never types into a cell that lies under the students
    await page.evaluate(() => (document.querySelector(".marking .wide").scrollLeft = 9999));
    await cell(page, "Own figures", "04").focus();
    const free = await page.evaluate(() => {
      const { left, right, top, bottom } = document.activeElement.getBoundingClientRect();
      return document.elementFromPoint((left + right) / 2, (top + bottom) / 2) === document.activeElement;
    });
    assert.ok(free, "the cell with the focus is in sight");
    await context.close();
  });

  test("prints with every column and every student, and no empty page", async () => {
    const folder = await mkdtemp(path.join(tmpdir(), "shimlight-marks-"));
    const { page, context } = await newPerson(browser);
    await signIn(page, demo);
    await openMarks(page);
    const heads = (await page.locator(".marking thead th").allTextContents()).map((head) => head.trim());
    const numbers = await page.locator(".marking tbody th").evaluateAll((all) => all.map((it) => it.textContent.slice(0, 2)));
    for (const format of ["A4", "Letter"]) {
      const file = path.join(folder, `${format}.pdf`);
      await writeFile(file, await page.pdf({ format, preferCSSPageSize: true }));
      const run = promisify(execFile);
      const { stdout: text } = await run("pdftotext", ["-layout", file, "-"]);
      const { stdout: inTurn } = await run("pdftotext", ["-raw", file, "-"]);
      const pages = text.split("\f").slice(0, -1);
      assert.ok(pages.length <= 3, `${pages.length} pages of ${format}`);
      for (const [at, part] of pages.entries()) assert.match(part, /^ *\d\d /m, `page ${at + 1} of ${format} has students`);
      for (const number of numbers) assert.match(text, new RegExp(`^ *${number} `, "m"), `number ${number}`);
      for (const word of ["unmarked", "given back", "no work on record", "as usual", "hang up"]) {
        assert.ok(inTurn.replace(/\s+/g, " ").includes(word), `${word} in ${inTurn}`);
      }
      const words = new Set(inTurn.split(/\s+/));
      for (const word of heads.join(" ").split(/\s+/)) assert.ok(words.has(word), `the head “${word}”, unbroken, on ${format}`);
      // words by their place: nothing lies past the edge of the paper
      const { stdout: boxes } = await run("pdftotext", ["-bbox", file, "-"]);
      const width = Number(boxes.match(/<page width="([\d.]+)"/)[1]);
      assert.ok(width > 700, `landscape: ${width} points`);
      const right = Math.max(...[...boxes.matchAll(/xMax="([\d.]+)"/g)].map((it) => Number(it[1])));
      assert.ok(right <= width - 20, `the farthest word ends at ${right} of ${width} points`);
    }
    await page.setViewportSize({ width: 1040, height: 700 });
    await page.emulateMedia({ media: "print" });
    const over = await page.evaluate(() =>
      [...document.querySelectorAll(".marking th, .marking td")].filter((it) => it.scrollWidth > it.clientWidth + 1).length,
    );
    assert.equal(over, 0, "no cell runs over");
    assert.ok(heads.includes("Total and state") && heads.length > 10, heads.join());
    await rm(folder, { recursive: true });
    await context.close();
  });
});

describe("a report", () => {
  test("saves itself, survives a line that is down, and is gone when the seat is left", async () => {
    const { page, context } = await newPerson(browser);
    await takeSeat(page, demo);
    await page.getByRole("link", { name: "Report", exact: true }).first().click();
    const text = page.locator("textarea[name=body]");
    const kept = (words) => page.locator("form.drafted .kept", { hasText: words }).waitFor();
    await text.fill("The fence stood nearer than I thought.");
    await kept("Draft saved at");
    await page.route("**/bench/report/**", (route) => (route.request().method() === "POST" ? route.abort() : route.continue()));
    await text.fill("The fence stood nearer than I thought, and the line is down.");
    await kept("Not saved yet");
    await page.reload();
    assert.match(await text.inputValue(), /the line is down/);
    await page.unroute("**/bench/report/**");
    await kept("Draft saved at");
    await page.getByRole("button", { name: "Leave" }).click();
    await page.waitForURL((url) => !url.pathname.startsWith("/bench"));
    assert.equal(await page.evaluate(() => sessionStorage.length + localStorage.length), 0);
    // another computer, another browser
    const other = await newPerson(browser);
    await takeSeat(other.page, demo);
    await other.page.getByRole("link", { name: "Report", exact: true }).first().click();
    assert.match(await other.page.locator("textarea[name=body]").inputValue(), /the line is down/);
    await context.close();
    await other.context.close();
  });
});
