// The Chromium that the operating system has, driven without downloading another.

import { fileURLToPath } from "node:url";

import { chromium } from "playwright-core";

import { ownEnvironment, PATIENCE } from "./environment.js";

const EXECUTABLE = process.env.SHIMLIGHT_CHROMIUM ?? "/usr/bin/chromium";

/** Which fonts it finds, whatever else the machine has. */
const FONTS = fileURLToPath(new URL("fonts.conf", import.meta.url));

/** Refused forms, and a header that counts behind TLS only: no troubles. */
const IGNORED = /status of 4\d\d|Cross-Origin-Opener-Policy header has been ignored/;

export const PHONE = { width: 360, height: 740 };
export const DESK = { width: 1200, height: 900 };

export function launch(more = []) {
  return chromium.launch({
    executablePath: EXECUTABLE,
    env: { ...ownEnvironment(), FONTCONFIG_FILE: FONTS },
    timeout: PATIENCE,
    args: [
      "--no-sandbox",
      "--no-proxy-server",
      "--disable-gpu",
      "--disable-quic",
      "--no-first-run",
      "--disable-background-networking",
      "--disable-component-update",
      "--disable-sync",
      ...more,
    ],
  });
}

/** A browser of its own (no cookies yet), in the lab's zone, whose pages report what goes wrong in them; with
    `noFace`, one to which the face never comes, so that pages and prints are in the widest letters a computer may
    have instead. */
export async function newPerson(browser, { viewport = DESK, javaScriptEnabled = true, noFace = false } = {}) {
  const context = await browser.newContext({
    viewport,
    javaScriptEnabled,
    locale: "en-US",
    timezoneId: "America/New_York",
  });
  context.setDefaultTimeout(PATIENCE);
  if (noFace) await context.route("**/*.woff2", (route) => route.fulfill({ status: 404 }));
  const troubles = [];
  const where = (told) => `on ${told.page()?.url() ?? "a page that is gone"}`;
  // told by the context, which hears all of its tabs
  context.on("weberror", (told) => troubles.push(`script: ${told.error().message}, ${where(told)}`));
  context.on("console", (told) => {
    if (told.type() === "error" && !IGNORED.test(told.text())) troubles.push(`${told.text()}, ${where(told)}`);
  });
  context.on("response", (response) => {
    if (response.status() >= 500) troubles.push(`${response.status()} ${response.url()}`);
  });
  const page = await context.newPage();
  return { context, page, troubles };
}
