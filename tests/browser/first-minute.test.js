// The first minutes, counted: how many fields a newcomer fills in and how often they press something.
// What is counted is printed, so that the README can say it.

import assert from "node:assert/strict";
import { execFile } from "node:child_process";
import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import path from "node:path";
import { after, before, test } from "node:test";
import { promisify } from "node:util";

import { launch, newPerson } from "./chromium.js";
import { startDemo, startNewServer } from "./demo.js";

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser?.close());

/** Fills in and presses, and counts both. */
function counting(page) {
  const counts = { fields: 0, presses: 0 };
  return {
    counts,
    async fill(label, text) {
      await page.getByLabel(label).fill(text);
      counts.fields += 1;
    },
    async check(label) {
      await page.getByLabel(label).check();
      counts.presses += 1;
    },
    async press(name, role = "button") {
      await page.getByRole(role, { name }).first().click();
      counts.presses += 1;
    },
  };
}

test("a student: from the opened page to the first hole diameter", async () => {
  const demo = await startDemo();
  const { page, context, troubles } = await newPerson(browser);
  try {
    await page.goto(demo.address);
    const { fill, press, check, counts } = counting(page);
    await fill("Door code", demo.doorCode);
    await fill("Roster number", demo.rosterNumber);
    await fill("Family name", demo.familyName);
    await press("Take my seat");
    await press("It is on paper");
    await press("Go to the camera", "link");
    await check(/A box: hole in one wall/);
    await fill("Hole to film", "128");
    await fill("Film width", "127");
    await fill("Film height", "102");
    // the number stands there before anything is saved
    await page.locator("#as-typed .reading", { hasText: "Hole diameter to make" }).getByText("0.504 mm").waitFor();
    console.log(`a student's first hole diameter: ${counts.fields} fields typed, ${counts.presses} presses`);
    assert.ok(counts.fields < 12 && counts.fields + counts.presses <= 12, JSON.stringify(counts));
    assert.deepEqual(troubles, []);
  } finally {
    await context.close();
    await demo.stop();
  }
});

test("an instructor: from the first start of the server to printed bench cards and an open door", async () => {
  const folder = await mkdtemp(path.join(tmpdir(), "shimlight-first-"));
  const server = await startNewServer(path.join(folder, "shimlight.db"));
  const { page, context, troubles } = await newPerson(browser);
  try {
    await page.goto(server.firstLink);
    const { fill, press, counts } = counting(page);
    await fill("Your name", "Iris Quayle");
    await fill("Sign-in name", "iris");
    await fill(/^Password/, "needle brass shim tray");
    await fill("The same password again", "needle brass shim tray");
    await press("Make the account");
    await press(/Set up the site/, "link");
    await fill(/^Name/, "Harbour darkroom");
    assert.notEqual(await page.getByLabel("Time zone").inputValue(), "", "the computer's own zone is proposed");
    await press("Set up the site");
    await press(/Stock paper and chemistry/, "link");
    await press(/usual/i);
    await press(/Make a section/, "link");
    await fill(/^Name/, "Monday evening");
    await press("Make the section");
    await press(/Put students on the roster/, "link");
    await fill(/Or paste the lines/, "roster_number,name,email_optional\n1,Ada Brook,\n2,Ben Alder,\n");
    await press("Show what it would change");
    await press("Take all 2 lines");
    await press(/Plan the first session/, "link");
    await fill("Title", "First light");
    await press("Plan it");
    await press("Bench cards", "link");
    // a page that is still being loaded prints as an empty sheet
    await page.waitForURL("**/cards");
    const pdf = path.join(folder, "cards.pdf");
    await writeFile(pdf, await page.pdf({ format: "A4", preferCSSPageSize: true }));
    const { stdout } = await promisify(execFile)("pdftotext", ["-layout", pdf, "-"]);
    assert.match(stdout, /camera/i, "cards stand on the paper");
    await page.goBack();
    await press("Open the session");
    await page.getByText("open", { exact: true }).first().waitFor();
    console.log(`an instructor's first printed cards and open door: ${counts.fields} fields typed, ${counts.presses} presses`);
    assert.ok(counts.fields <= 8 && counts.presses <= 18, JSON.stringify(counts));
    assert.deepEqual(troubles, []);
  } finally {
    await context.close();
    await server.stop();
    await rm(folder, { recursive: true });
  }
});
