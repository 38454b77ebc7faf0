// The floor in real browsers: what one person does is seen by the others without anybody loading a
// page anew; and a connection that is lost loses nothing that was typed.

import assert from "node:assert/strict";
import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import path from "node:path";
import { after, before, describe, test } from "node:test";

import { launch, newPerson, PHONE } from "./chromium.js";
import { EVENING, standingAddress, startDemo, startServer } from "./demo.js";
import { fitsTheScreen, signIn, takeSeat } from "./people.js";

let demo, browser;
before(async () => {
  [demo, browser] = await Promise.all([startDemo(), launch()]);
});
after(async () => {
  await browser?.close();
  await demo?.stop();
});

/** The instructor signs in and goes to the floor of today's session. */
async function toTheFloor(page, where) {
  await signIn(page, where);
  await page.getByRole("link", { name: "Quillmere afternoon section" }).first().click();
  await page.getByRole("link", { name: /Second light/ }).first().click();
  await page.goto(`${page.url()}/floor`);
}

describe("the floor", () => {
  test("shows a call and a sheet on its way as they happen, and a word to all reaches the bench", async () => {
    const staff = await newPerson(browser);
    await toTheFloor(staff.page, demo);
    const student = await newPerson(browser, { viewport: PHONE });
    await takeSeat(student.page, demo);
    const board = staff.page.locator("table.lines");
    await board.getByText("the lid leaks light").waitFor();
    // what stands below the board has the page's width
    const [below, main] = await Promise.all(
      [".alongside", "main"].map((part) => staff.page.locator(part).first().boundingBox()),
    );
    assert.ok(below.width > main.width * 0.9, `${below.width} of ${main.width} px`);

    await student.page.getByLabel("Ask for help: a word why").fill("needle stuck");
    await student.page.getByRole("button", { name: "Ask somebody to come" }).click();
    await board.getByText("needle stuck").waitFor();
    await board.locator("tr", { hasText: "needle stuck" }).getByRole("button", { name: /I went/ }).click();
    await student.page.getByLabel("Ask for help: a word why").waitFor();

    await student.page.getByRole("button", { name: /^Load (a|another) sheet$/ }).click();
    await board.locator("tr", { hasText: "Lindqvist" }).getByText("loading, just now").waitFor();
    await fitsTheScreen(student.page);

    await staff.page.getByLabel("Say to all benches").fill("Lights on in two minutes");
    await staff.page.getByRole("button", { name: "Say it" }).click();
    await student.page.locator("p.told", { hasText: "Lights on in two minutes" }).waitFor();

    // the bare floor names nobody
    await staff.page.getByRole("link", { name: /Bare floor/ }).click();
    const bare = await staff.page.locator("main").innerText();
    assert.ok(bare.includes("Lights on in two minutes") && !bare.includes("Lindqvist"), bare);
    assert.deepEqual([...staff.troubles, ...student.troubles], []);
    await staff.context.close();
    await student.context.close();
  });

  test("what is being typed survives a lost connection and a page loaded anew, and goes with its student", async () => {
    const { page, context } = await newPerson(browser, { viewport: PHONE });
    await takeSeat(page, demo);
    await page.goto(`${demo.address}/bench/hole`);
    await page.getByLabel("First reading").fill("0.51");
    await page.getByLabel("Second reading").fill("0.49");
    await page.locator("#as-typed", { hasText: /f\/2\d\d/ }).waitFor();
    await context.setOffline(true);
    await page.getByRole("button", { name: "Save this hole" }).click();
    await page.getByText("There is no connection now").waitFor();
    await context.setOffline(false);
    await page.reload();
    await page.getByText("What you had typed here is back").waitFor();
    assert.equal(await page.getByLabel("Second reading").inputValue(), "0.49");
    await page.getByRole("button", { name: "Save this hole" }).click();
    await page.getByText(/Last saved/).waitFor();
    assert.equal(await page.getByLabel("Second reading").inputValue(), "", "what was saved is no draft");

    await page.getByLabel("First reading").fill("0.77");
    await page.getByRole("button", { name: "Leave" }).click();
    await takeSeat(page, demo);
    await page.goto(`${demo.address}/bench/hole`);
    assert.equal(await page.getByLabel("First reading").inputValue(), "", "nothing of it is left on the computer");
    await context.close();
  });

  test("what is typed while the page looks for changes is not taken away by the answer", async () => {
    const { page, troubles, context } = await newPerson(browser);
    await takeSeat(page, demo);
    // the page looks again by its own clock, which goes on when the story says so
    await page.clock.install({ time: EVENING });
    await page.goto(`${demo.address}/bench`);
    let answer;
    const held = new Promise((resolve) => (answer = resolve));
    await page.route("**/bench/parts/evening*", async (route) => {
      await held;
      await route.continue();
    });
    const looking = page.waitForRequest("**/bench/parts/evening*");
    await page.clock.runFor(31_000);
    await looking;
    const why = page.getByLabel("Ask for help: a word why");
    await why.fill("needle stuck");
    await page.getByRole("button", { name: "Ask somebody to come" }).focus();
    // it looks for the next part once it is done with this one
    const next = page.waitForRequest("**/bench/parts/steps*");
    answer();
    await next;
    assert.equal(await why.inputValue(), "needle stuck");
    assert.deepEqual(troubles, []);
    await context.close();
  });

  test("the board comes back by itself after the server was stopped and started again", async () => {
    const folder = await mkdtemp(path.join(tmpdir(), "shimlight-floor-"));
    const first = await startDemo({ at: new Date().toISOString(), options: ["--into", folder] });
    const door = await standingAddress();
    const lab = { ...first, address: door.address };
    door.leadsTo(first.address);
    const staff = await newPerson(browser);
    try {
      await toTheFloor(staff.page, lab);
      const board = staff.page.locator("table.lines");
      await board.waitFor();
      assert.equal(await first.stop(), 0);
      // it says so when it had to give up waiting
      assert.ok(!first.log().includes("still unanswered"), `an open stream holds up the stop: ${first.log()}`);
      door.leadsTo(null);
      const again = await startServer(path.join(folder, "shimlight.db"));
      door.leadsTo(again.address);
      try {
        const student = await newPerson(browser, { viewport: PHONE });
        await takeSeat(student.page, lab);
        await student.page.getByLabel("Ask for help: a word why").fill("lamp flickers");
        await student.page.getByRole("button", { name: "Ask somebody to come" }).click();
        await board.getByText("lamp flickers").waitFor();
        await student.context.close();
      } finally {
        await again.stop();
      }
    } finally {
      await staff.context.close();
      await first.stop();
      door.close();
      await rm(folder, { recursive: true });
    }
  });
});

describe("the shutter clock", () => {
  test("counts down in large figures and says where the phone stays", async () => {
    const { page, troubles, context } = await newPerson(browser, { viewport: PHONE });
    await takeSeat(page, demo);
    // the phone's clock goes on when the story says so
    await page.clock.install({ time: EVENING });
    await page.clock.pauseAt(new Date(Date.parse(EVENING) + 60_000));
    await page.goto(`${demo.address}/bench/timer?time=2`);
    await fitsTheScreen(page);
    const left = page.locator("[data-shutter-left]");
    await page.getByRole("button", { name: "Open: start counting" }).click();
    await page.getByText("The shutter is open").waitFor();
    assert.equal(await left.innerText(), "2 s");
    await page.clock.runFor(1_200);
    assert.equal(await left.innerText(), "1 s");
    await page.getByText("The shutter is open").waitFor();
    await page.clock.runFor(1_000);
    await page.getByText("Leave the phone outside the dark room").waitFor();
    assert.equal(await left.innerText(), "0 s");
    assert.deepEqual(troubles, []);
    await context.close();
  });
});
