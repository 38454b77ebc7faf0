// A student who has never been here, at a phone: from the door code to a recorded sheet.

import assert from "node:assert/strict";
import { after, before, describe, test } from "node:test";

import { DESK, launch, newPerson, PHONE } from "./chromium.js";
import { startDemo } from "./demo.js";
import { fitsTheScreen, joinWithTheDoorCode, signIn } from "./people.js";

/** Who comes for the first time, beside the one of the demo: each story has a newcomer of its own. Invented. */
const PHONING = { rosterNumber: "51", familyName: "Hollin" };
const WITHOUT_SCRIPTS = { rosterNumber: "52", familyName: "Istvane" };
const BY_NAME = { rosterNumber: "53", familyName: "Jurrow" };
const MISTYPING = { rosterNumber: "54", familyName: "Kestle" };

let demo, browser;
before(async () => {
  [demo, browser] = await Promise.all([startDemo(), launch(["--host-resolver-rules=MAP lab.test 127.0.0.1"])]);
  const { page, context } = await newPerson(browser);
  await signIn(page, demo);
  await page.getByRole("link", { name: "Quillmere afternoon section" }).first().click();
  await page.getByRole("heading", { level: 1, name: "Quillmere afternoon section" }).waitFor();
  await page.goto(`${page.url()}/roster/import`);
  const lines = [PHONING, WITHOUT_SCRIPTS, BY_NAME, MISTYPING].map((one) => `${one.rosterNumber},Pat ${one.familyName}`);
  await page.getByLabel("Or paste the lines").fill(lines.join("\n"));
  await page.getByRole("button", { name: "Show what it would change" }).click();
  await page.getByRole("button", { name: /^Take all 4/ }).click();
  await page.getByText("Pat Kestle").first().waitFor();
  await context.close();
});
after(async () => {
  await browser?.close();
  await demo?.stop();
});

/** The whole way; gives the text of the sheet's page. */
async function fromDimensionsToASheet(page, lab) {
  const { address } = lab;
  await joinWithTheDoorCode(page, lab);
  await page.getByRole("link", { name: "Go to the camera" }).click();
  await page.getByRole("link", { name: /camera/i }).first().waitFor();
  await page.goto(`${address}/bench/camera/new`);
  await page.getByLabel(/round can with the hole in its side/).check();
  await page.getByLabel("Inside diameter of the can").fill("120");
  await page.getByLabel("Film width").fill("120");
  await page.getByLabel("Film height").fill("90");
  await fitsTheScreen(page);
  await page.getByRole("button", { name: "Save and show the hole to make" }).click();

  // one target: d = 1.9 sqrt(550 nm x 120 mm) = 0.4881 mm, worked out by hand
  const target = page.locator(".reading", { hasText: "Hole diameter to make" });
  await target.getByText("0.488 mm").waitFor();
  await page.getByText("0.49 mm").first().waitFor();
  await fitsTheScreen(page);

  await page.getByRole("link", { name: /make the hole/i }).click();
  // without readings there is a message beside the field, and what was typed stays
  await page.getByLabel("First reading").fill("0.48");
  await page.getByRole("button", { name: "Save this hole" }).click();
  await page.getByText("two readings are needed").first().waitFor();
  assert.equal(await page.getByLabel("First reading").inputValue(), "0.48");
  await page.getByLabel("Second reading").fill("0.49");
  await page.getByRole("button", { name: "Save this hole" }).click();
  await page.getByText(/f\/24\d/).first().waitFor();
  await fitsTheScreen(page);

  await page.getByRole("link", { name: "Sheets", exact: true }).click();
  const asking = page.locator("form[method=get]");
  await asking.getByLabel(/Meter reading/).fill("EV 15");
  await asking.getByRole("button", { name: "Work out the time" }).click();
  const time = await page.locator(".reading .value").first().innerText();
  await fitsTheScreen(page);

  const recording = page.locator("form[method=post][action='/bench/exposures']");
  await recording.getByLabel("How long it was open").fill(time);
  await recording.getByLabel("Size of the sheet").fill("12x9cm");
  await recording.getByLabel(/Meter reading/).fill("EV 15");
  await recording.getByLabel("Not yet").check();
  await recording.getByRole("button", { name: "Record the sheet" }).click();
  await page.getByRole("heading", { level: 1, name: /^Sheet \d+/ }).waitFor();
  await fitsTheScreen(page);
  return { time, text: await page.locator("main").innerText() };
}

/** Seconds of `8 s` or `1 min 5 s`. */
function seconds(words) {
  const [, minutes, rest] = words.match(/^(?:(\d+) min)? ?(?:([\d.]+) s)?$/);
  return 60 * Number(minutes ?? 0) + Number(rest ?? 0);
}

describe("a newcomer", () => {
  for (const { name, who, viewport, javaScriptEnabled, host } of [
    { name: "at a phone", who: PHONING, viewport: PHONE, javaScriptEnabled: true, host: "127.0.0.1" },
    { name: "at a computer with JavaScript off", who: WITHOUT_SCRIPTS, viewport: DESK, javaScriptEnabled: false, host: "127.0.0.1" },
    // a lab's plain-HTTP name is no secure context: cookies and forms must work all the same
    { name: "at a lab computer that knows the server by a name", who: BY_NAME, viewport: DESK, javaScriptEnabled: true, host: "lab.test" },
  ]) {
    test(name, async () => {
      const { page, troubles, context } = await newPerson(browser, { viewport, javaScriptEnabled });
      try {
        const address = demo.address.replace("127.0.0.1", host);
        const { time, text } = await fromDimensionsToASheet(page, { ...demo, ...who, address });
        // what others recorded on this paper has taught the forecast: about eight seconds
        assert.ok(Math.abs(Math.log2(seconds(time) / 8)) < 0.75, time);
        assert.ok(text.includes("EV 15"), text);
        await page.goto(`${address}/bench`);
        await page.getByText(/Last saved/).waitFor();
        assert.deepEqual(troubles, []);
      } finally {
        await context.close();
      }
    });
  }

  test("who leaves is gone from the computer, and comes back with four words", async () => {
    const { page, context } = await newPerson(browser, { viewport: DESK });
    try {
      const key = await joinWithTheDoorCode(page, demo);
      await page.getByRole("button", { name: "Leave" }).click();
      await page.goto(`${demo.address}/bench/camera`);
      await page.getByRole("heading", { level: 1, name: "Sign in" }).waitFor();
      await page.goBack();
      assert.ok(!(await page.locator("body").innerText()).includes("Halvorsen"), "no name is left on the screen");

      await page.goto(demo.address);
      await page.getByLabel("Seat key").fill(key.toUpperCase().replaceAll(" ", "  "));
      await page.getByRole("button", { name: "Come back" }).click();
      await page.waitForURL("**/bench");
      await page.getByText("Halvorsen").first().waitFor();
    } finally {
      await context.close();
    }
  });

  test("who mistypes sees no names and keeps what was typed", async () => {
    const { page, context } = await newPerson(browser, { viewport: PHONE });
    try {
      await page.goto(demo.address);
      await page.getByLabel("Door code").fill(demo.doorCode);
      await page.getByLabel("Roster number").fill(MISTYPING.rosterNumber);
      await page.getByLabel("Family name").fill("Nobody");
      await page.getByRole("button", { name: "Take my seat" }).click();
      await page.getByText("no seat matches").first().waitFor();
      assert.equal(await page.getByLabel("Roster number").inputValue(), MISTYPING.rosterNumber);
      const text = await page.locator("body").innerText();
      assert.ok(!text.includes(MISTYPING.familyName) && !text.includes("Lindqvist"), "no list of names");
    } finally {
      await context.close();
    }
  });
});
