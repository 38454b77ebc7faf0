// Paper, without a printer: a page as the PDF that Chromium prints.

import { execFile } from "node:child_process";
import { writeFile } from "node:fs/promises";
import path from "node:path";
import { promisify } from "node:util";

const run = promisify(execFile);

/** Prints what is at an address: how many pages come out, the words of each, and where the file is. */
export async function printed(page, address, folder, format = "A4") {
  await page.goto(address);
  const name = new URL(address).pathname.replaceAll("/", "-").slice(1);
  const file = path.join(folder, `${name}-${format}.pdf`);
  await writeFile(file, await page.pdf({ format, preferCSSPageSize: true }));
  const [info, text] = await Promise.all([run("pdfinfo", [file]), run("pdftotext", ["-layout", file, "-"])]);
  const pages = Number(info.stdout.match(/Pages:\s+(\d+)/)[1]);
  // a form feed ends each page
  return { file, pages, text: text.stdout, words: text.stdout.split("\f").slice(0, pages) };
}
