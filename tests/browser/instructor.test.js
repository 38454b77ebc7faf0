// The instructor: from signing in to files that other programs read, and to paper for the dark.

import assert from "node:assert/strict";
import { execFile } from "node:child_process";
import { mkdtemp, readFile, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import path from "node:path";
import { after, before, describe, test } from "node:test";
import { promisify } from "node:util";

import { launch, newPerson } from "./chromium.js";
import { startDemo } from "./demo.js";
import { signIn } from "./people.js";

const run = promisify(execFile);
/** Reads a CSV as most programs' library does; answers with rows as JSON. */
const READ_CSV = `
import csv, json, sys
with open(sys.argv[1], newline="", encoding="utf-8") as file:
    print(json.dumps(list(csv.DictReader(file, strict=True))))
`;

let demo, browser, folder;
before(async () => {
  [demo, browser] = await Promise.all([startDemo(), launch()]);
  folder = await mkdtemp(path.join(tmpdir(), "shimlight-browser-"));
});
after(async () => {
  await browser?.close();
  await demo?.stop();
  if (folder) await rm(folder, { recursive: true });
});

async function rows(file) {
  return JSON.parse((await run("python3", ["-c", READ_CSV, file])).stdout);
}

/** Opens the session of today by its links. */
async function openSession(page) {
  await page.getByRole("link", { name: "Quillmere afternoon section" }).first().click();
  await page.getByRole("link", { name: /Second light/ }).first().click();
  await page.getByRole("heading", { level: 1, name: "Second light" }).waitFor();
}

async function download(page, link) {
  const [file] = await Promise.all([page.waitForEvent("download"), link.click()]);
  const to = path.join(folder, file.suggestedFilename());
  await file.saveAs(to);
  return to;
}

describe("the instructor", () => {
  test("signs in and takes away a CSV with the eight-second can in it", async () => {
    const { page, troubles, context } = await newPerson(browser);
    await signIn(page, demo);
    await openSession(page);
    await page.getByRole("link", { name: "Files to take away (CSV)" }).click();
    const file = await download(page, page.getByRole("link", { name: /exposures\.csv/ }).first());
    const text = await readFile(file, "utf8");
    assert.ok(text.endsWith("\r\n") && !/[^\r]\n/.test(text), "lines end in CR LF");
    const exposures = await rows(file);
    const cans = exposures.filter((row) => row.shape === "curved" && row.hole_to_film_mm === "120");
    assert.ok(cans.length > 0, "the can is there");
    for (const can of cans) {
      // about eight seconds in full sun at EI 10, within 1.5 stops (common practice, no source)
      const base = Number(can.base_s) * 2 ** (Number(can.ev100) - 15);
      assert.ok(Math.abs(Math.log2(base / 8)) < 1.5, JSON.stringify(can));
      assert.equal(can.exposure_index, "10");
    }
    const right = cans.filter((can) => Number(can.result_stops) === 0).map((can) => Number(can.made_s));
    assert.ok(right.some((made) => made >= 6 && made <= 12), `came out right with ${right} s`);
    assert.deepEqual(troubles, []);
    await context.close();
  });

  test("types in a student whose name is a formula, and the CSV holds it harmless", async () => {
    const { page, context } = await newPerson(browser);
    await signIn(page, demo);
    await page.getByRole("link", { name: "Quillmere afternoon section" }).first().click();
    await page.getByLabel("Roster number").fill("99");
    await page.getByLabel("Name", { exact: true }).fill('=cmd("calc"), "O\'Brien" ẞ 李');
    await page.getByRole("button", { name: "Put on the roster" }).click();
    const file = await download(page, page.getByRole("link", { name: /roster away/i }));
    const row = (await rows(file)).find((row) => row.roster_number === "99");
    assert.equal(row.name, '\'=cmd("calc"), "O\'Brien" ẞ 李');
    await context.close();
  });

  test("prints cards, the prep sheet, the door poster, tray labels, the marks sheet and the disposal log", async () => {
    const { page, troubles, context } = await newPerson(browser);
    await signIn(page, demo);
    await openSession(page);
    const session = page.url();
    const print = async (address, name) => {
      await page.goto(address);
      const file = path.join(folder, `${name}.pdf`);
      await writeFile(file, await page.pdf({ format: "A4", preferCSSPageSize: true }));
      const [info, text] = await Promise.all([run("pdfinfo", [file]), run("pdftotext", ["-layout", file, "-"])]);
      return { pages: Number(info.stdout.match(/Pages:\s+(\d+)/)[1]), text: text.stdout };
    };
    const cardOf = () => page.locator(".card-camera").allTextContents();
    const cameras = 6;
    const cards = await print(`${session}/cards`, "cards");
    // four to a page, and one page of backs
    const count = await page.locator(".bench-card").count();
    assert.equal(cards.pages, Math.ceil(count / 4) + 1, `${count} cards`);
    // the number is set larger than the word before it, so the text of the PDF may part the two
    const headings = (await cardOf()).map((heading) => heading.replace(/\s+/g, " ").trim());
    for (let camera = 1; camera <= cameras; camera += 1) {
      assert.ok(headings.includes(`Camera ${camera}`), `camera ${camera} has its card: ${headings}`);
    }
    assert.ok(/camera/i.test(cards.text), "the cards stand in the PDF");
    assert.ok(!cards.text.includes("Sign in"), "no navigation on paper");
    const blank = await print(`${session}/cards?blank=1`, "blank");
    assert.equal(blank.pages, 2, "four blank cards and their backs");
    const prep = await print(`${session}/prep`, "prep");
    assert.ok(prep.pages <= 3 && /developer/i.test(prep.text), `${prep.pages} pages to prepare`);
    const poster = await print(`${session}/poster`, "poster");
    assert.equal(poster.pages, 1);
    assert.ok(poster.text.includes(demo.doorCode), poster.text);
    const labels = await print(`${session}/tray-labels`, "tray-labels");
    assert.equal(labels.pages, 2, "three trays, two labels to a page");
    assert.ok(/developer/i.test(labels.text) && /fixer/i.test(labels.text), labels.text);
    const marks = await print(`${session}/marks`, "marks");
    assert.ok(marks.pages <= 4 && /Lindqvist/.test(marks.text), `${marks.pages} pages of marks`);
    const log = await print(`${demo.address}/front/waste/disposal-log`, "disposal-log");
    assert.ok(/fixer/i.test(log.text), log.text);
    assert.deepEqual(troubles, []);
    await context.close();
  });
});
