// Every form sent with nonsense comes back with a message beside the field and what was typed,
// on a page that keeps the rules of every page.

import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import path from "node:path";
import { after, before, describe, test } from "node:test";
import assert from "node:assert/strict";

import { launch, newPerson, PHONE } from "./chromium.js";
import { startDemo } from "./demo.js";
import { fitsTheScreen, signIn, takeSeat } from "./people.js";
import { accessibilityFaults, htmlFaults } from "./rules.js";

/** What is typed into every text field: no number, no date, no length, and nothing a page may run. */
const NONSENSE = `<img src=x onerror=alert(1)> "?!' ${"long".repeat(60)}`;

/** `files` are the pages that came back, each with what it is told by. */
let demo, browser, folder;
const files = new Map();
before(async () => {
  [demo, browser] = await Promise.all([startDemo(), launch()]);
  folder = await mkdtemp(path.join(tmpdir(), "shimlight-refused-"));
});
after(async () => {
  await browser?.close();
  await demo?.stop();
  if (folder) await rm(folder, { recursive: true });
});

/** Fills every text field of the form that goes to `action` and sends it past the browser's own checks. */
async function sendNonsense(page, action) {
  const form = page.locator(`form[method=post][action="${action}"]`).first();
  await form.waitFor({ state: "attached" });
  const answered = page.waitForResponse((response) => response.request().method() === "POST");
  await form.evaluate((form, nonsense) => {
    for (const control of form.querySelectorAll("input, textarea")) {
      if (["hidden", "checkbox", "radio", "file", "submit"].includes(control.type)) continue;
      control.type = control.tagName === "INPUT" ? "text" : control.type;
      control.removeAttribute("maxlength");
      control.value = nonsense;
    }
    form.noValidate = true;
    form.requestSubmit(form.querySelector("button:not([formmethod])"));
  }, NONSENSE).catch((error) => {
    // the page may be gone before the answer to `evaluate` is
    if (!/context was destroyed|navigation/i.test(error.message)) throw error;
  });
  const answer = await answered;
  await page.waitForLoadState("load");
  return answer;
}

async function refuseAll(page, troubles, forms) {
  const faults = [];
  for (const [where, action] of forms) {
    const answer = await page.goto(`${demo.address}${where}`);
    assert.equal(answer.status(), 200, where);
    const refused = await sendNonsense(page, action);
    const told = `${where} to ${action}`;
    if (refused.status() !== 422) {
      faults.push(`${told}: ${refused.status()} instead of 422`);
      continue;
    }
    const file = path.join(folder, `${action.replace(/\W+/g, "-")}-${files.size}.html`);
    await writeFile(file, await refused.text());
    files.set(file, told);
    // a roster is refused line by line, in a table of its own
    if (!action.endsWith("/preview") && (await page.locator("[aria-invalid=true]").count()) === 0) {
      faults.push(`${told}: no field is marked`);
    }
    for (const field of await page.locator("[aria-invalid=true]").all()) {
      const described = (await field.getAttribute("aria-describedby")) ?? "";
      const words = await page.evaluate(
        (ids) => ids.map((id) => document.getElementById(id)?.textContent ?? "").join(" ").trim(),
        described.split(" "),
      );
      if (words === "") faults.push(`${told}: ${await field.getAttribute("name")} is marked without a message`);
    }
    if (!(await page.content()).includes("onerror=alert(1)")) faults.push(`${told}: what was typed is gone`);
    for (const fault of await accessibilityFaults(page)) faults.push(`${told}: ${fault}`);
    await page.setViewportSize(PHONE);
    await fitsTheScreen(page).catch((error) => faults.push(error.message));
    await page.setViewportSize({ width: 1200, height: 900 });
  }
  faults.push(...troubles);
  assert.deepEqual(faults, [], `${faults.length} faults:\n${faults.join("\n")}`);
}

/** The form on a page that goes to an address with an id in it. */
async function actionLike(page, where, pattern) {
  await page.goto(`${demo.address}${where}`);
  const actions = await page.locator("form[method=post]").evaluateAll((forms) => forms.map((form) => form.getAttribute("action")));
  const found = actions.find((action) => pattern.test(action));
  assert.ok(found, `${where} has a form like ${pattern}: ${actions.join(" ")}`);
  return found;
}

async function linkLike(page, where, pattern) {
  await page.goto(`${demo.address}${where}`);
  const paths = await page.locator("a[href]").evaluateAll((links) => links.map((link) => link.getAttribute("href")));
  const found = paths.find((path) => pattern.test(path));
  assert.ok(found, `${where} has a link like ${pattern}: ${paths.join(" ")}`);
  return found;
}

describe("a form full of nonsense comes back", () => {
  test("at the door", async () => {
    const { page, troubles, context } = await newPerson(browser);
    await refuseAll(page, troubles, [
      ["/", "/door"],
      ["/", "/seat"],
      ["/", "/staff"],
    ]);
    await context.close();
  });

  test("at the bench", async () => {
    const { page, troubles, context } = await newPerson(browser);
    await takeSeat(page, demo);
    const camera = await linkLike(page, "/bench/camera", /^\/bench\/camera\/[^/]+\/edit$/);
    const hole = await linkLike(page, "/bench/hole", /^\/bench\/hole\/[^/]+\/edit$/);
    const sheet = await linkLike(page, "/bench/exposures", /^\/bench\/exposures\/[0-9a-f-]{36}$/);
    await refuseAll(page, troubles, [
      ["/bench/camera/new", "/bench/camera"],
      ["/bench/camera/new", "/bench/camera/join"],
      [camera, camera],
      ["/bench/hole", "/bench/hole"],
      [hole, hole],
      ["/bench/exposures", "/bench/exposures"],
      ["/bench/exposures/pile", "/bench/exposures/pile"],
      [sheet, `${sheet}/judge`],
      [`${sheet}/correct`, `${sheet}/correct`],
      ["/bench/prints", "/bench/prints"],
      ["/bench/chemistry", "/bench/chemistry"],
    ]);
    await context.close();
  });

  test("at the front bench", async () => {
    const { page, troubles, context } = await newPerson(browser);
    await signIn(page, demo);
    const section = await linkLike(page, "/front", /^\/front\/sections\/[0-9a-f-]{36}$/);
    const session = await linkLike(page, "/front", /^\/front\/sessions\/[0-9a-f-]{36}$/);
    const paper = await linkLike(page, "/front/stockroom", /^\/front\/stockroom\/papers\/[0-9a-f-]{36}$/);
    const product = await linkLike(page, "/front/stockroom", /^\/front\/stockroom\/products\/[0-9a-f-]{36}$/);
    const mix = await linkLike(page, "/front/chemistry", /^\/front\/chemistry\/mix\?/);
    const batch = await linkLike(page, "/front/chemistry", /^\/front\/chemistry\/batches\/[0-9a-f-]{36}$/);
    const container = await linkLike(page, "/front/waste", /^\/front\/waste\/containers\/[0-9a-f-]{36}$/);
    const rubric = await linkLike(page, "/front/rubrics", /^\/front\/rubrics\/[0-9a-f-]{36}$/);
    const sheet = await linkLike(page, `${session}/marks`, /\/marks\/[0-9a-f-]{36}$/);
    await refuseAll(page, troubles, [
      ["/front/site/edit", "/front/site"],
      ["/front/site", "/front/site/rules"],
      ["/front/accounts", "/front/accounts"],
      ["/front/sections/new", "/front/sections"],
      [`${section}/edit`, section],
      [section, `${section}/roster`],
      [`${section}/roster/import`, `${section}/roster/preview`],
      [`${section}/sessions/new`, `${section}/sessions`],
      [`${session}/plan`, `${session}/plan`],
      [`${session}/filled-cards`, `${session}/filled-cards`],
      [`${session}/filled-cards/camera`, `${session}/filled-cards/camera`],
      ["/front/stockroom/papers/new", "/front/stockroom/papers"],
      [paper, paper],
      ["/front/stockroom/products/new", "/front/stockroom/products"],
      [product, product],
      ["/front/stockroom", "/front/stockroom/tray-lines"],
      [mix, "/front/chemistry/batches"],
      [batch, `${batch}/reading`],
      [batch, `${batch}/write-off`],
      [batch, await actionLike(page, batch, /retire$/)],
      ["/front/chemistry", "/front/chemistry/trays"],
      ["/front/waste/containers/new", "/front/waste/containers"],
      [container, await actionLike(page, container, /(remove|pour|write-off)$/)],
      ["/front/rubrics", "/front/rubrics"],
      [rubric, rubric],
      [sheet, sheet],
    ]);
    await context.close();
  });

  // one start of the validator for the pages of all of them
  test("as valid HTML", async () => {
    assert.ok(files.size > 0, "no form was sent before");
    const faults = await htmlFaults(files);
    assert.deepEqual(faults, [], `${faults.length} faults:\n${faults.join("\n")}`);
  });
});

describe("the buttons at the foot of a refused form", () => {
  /** A product without a name: comes back with the rest of what was typed. */
  const refusedProduct = async (page) => {
    await page.goto(`${demo.address}/front/stockroom/products/new`);
    await page.getByLabel("Dilution").fill("1+9");
    await page.getByLabel("Hazards, in words").fill("Irritates the eyes");
    await page.locator("form[action='/front/stockroom/products']").evaluate((form) => (form.noValidate = true));
    await page.getByRole("button", { name: "Put it on the shelf" }).click();
    await page.getByText("Not saved yet").waitFor();
  };
  const stillThere = async (page) => {
    assert.equal(await page.getByLabel("Hazards, in words").inputValue(), "Irritates the eyes, and more");
    assert.equal(await page.getByLabel("Dilution").inputValue(), "1+9");
    assert.equal(await page.getByText("Not here").count(), 0);
  };

  test("keep what was typed", async () => {
    const { page, troubles, context } = await newPerson(browser);
    await signIn(page, demo);
    await refusedProduct(page);
    await page.getByLabel("Hazards, in words").fill("Irritates the eyes, and more");
    await page.getByRole("button", { name: "Make this page dark red" }).click();
    await page.getByRole("button", { name: "Make this page light" }).waitFor();
    assert.equal(await page.locator("html").getAttribute("data-theme"), "dim");
    await page.getByText("not a safelight").waitFor();
    await stillThere(page);
    await page.getByRole("button", { name: /^Read in / }).click();
    await page.getByText("from the next page on").waitFor();
    await stillThere(page);
    for (const fault of await accessibilityFaults(page)) troubles.push(fault);

    // saved, the page that follows is in the other units and in the dark
    await page.getByLabel("Name", { exact: true }).fill("Invented bath");
    const before = await page.getByRole("button", { name: /^Read in / }).innerText();
    await page.getByRole("button", { name: "Put it on the shelf" }).click();
    await page.getByRole("button", { name: /^Read in / }).and(page.locator(`:not(:text-is("${before}"))`)).waitFor();
    assert.equal(await page.locator("html").getAttribute("data-theme"), "dim");
    await page.getByText("Invented bath").first().waitFor();
    await page.getByRole("button", { name: "Make this page light" }).click();
    await page.getByRole("button", { name: "Make this page dark red" }).waitFor();
    assert.equal(await page.locator("html").getAttribute("data-theme"), null);
    assert.ok(await page.locator(".not-a-safelight").isHidden());
    assert.deepEqual(troubles, []);
    await context.close();
  });

  test("are not offered without JavaScript, where they would lose it", async () => {
    const { page, context } = await newPerson(browser, { javaScriptEnabled: false });
    await signIn(page, demo);
    await page.goto(`${demo.address}/front/sections/new`);
    assert.ok(await page.getByRole("button", { name: "Make this page dark red" }).isVisible());
    await page.getByLabel("Name", { exact: true }).fill("   ");
    await page.getByRole("button", { name: "Make the section" }).click();
    await page.getByText("Not saved yet").waitFor();
    assert.ok(await page.getByRole("button", { name: "Make this page dark red", includeHidden: true }).isHidden());
    await page.getByText("can be changed on the next page").waitFor();
    await context.close();
  });
});
