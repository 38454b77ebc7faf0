// The rules every page keeps: accessibility (axe) and valid HTML (vnu).

import { execFile } from "node:child_process";
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import path from "node:path";
import { promisify } from "node:util";

import { ownEnvironment } from "./environment.js";

const require = createRequire(import.meta.url);
const AXE = await readFile(require.resolve("axe-core/axe.min.js"), "utf8");
const VNU = path.join(path.dirname(require.resolve("vnu-jar/package.json")), "build/dist/vnu.jar");

/**
 * The rules whose answer colours can change. All others ask for elements, names, roles and places, which are the same
 * in either theme: a page that had them all in one theme needs only these in the other.
 */
export const OF_COLOURS = ["color-contrast", "link-in-text-block"];

/** What the accessibility rules, all or only those named, find on the page as it is shown now. */
export async function accessibilityFaults(page, only = null) {
  // a page that stays open keeps the rules
  if (!(await page.evaluate(() => "axe" in window))) await page.evaluate(AXE);
  return await page.evaluate(async (only) => {
    const options = { resultTypes: ["violations"], ...(only ? { runOnly: only } : {}) };
    const { violations } = await window.axe.run(document, options);
    return violations.flatMap(({ id, help, nodes }) =>
      nodes.map((node) => `${id}: ${help}: ${node.html.slice(0, 200)} ${node.failureSummary ?? ""}`),
    );
  }, only);
}

/** What the validator finds: `files` maps each file to the name it is told by. */
export async function htmlFaults(files) {
  // vnu writes its findings to standard error and ends with 1 when there are any
  // it runs for seconds only: without Java's slower, better compiler half as long, but with more stack than Java proposes
  const java = ["-XX:TieredStopAtLevel=1", "-Xss8m", "-jar", VNU];
  const run = promisify(execFile)("java", [...java, "--format", "json", ...files.keys()], {
    maxBuffer: 64 * 1024 * 1024,
    env: ownEnvironment(),
  });
  const { stderr } = await run.catch((error) => error);
  return JSON.parse(stderr).messages.map(({ url, type, lastLine, message, extract }) => {
    const file = [...files.keys()].find((name) => url.endsWith(name));
    return `${files.get(file)} line ${lastLine}: ${type}: ${message} [${(extract ?? "").replace(/\s+/g, " ")}]`;
  });
}
