// Paper, without a printer: a page as the PDF that Chromium prints.

import { execFile } from "node:child_process";
import { writeFile } from "node:fs/promises";
import path from "node:path";
import { promisify } from "node:util";

const run = promisify(execFile);

/** The faces in which a file's words are set. */
export async function facesOf(file) {
  const { stdout } = await run("pdffonts", [file]);
  // two lines of head; a name may carry a prefix for its subset
  return stdout.split("\n").slice(2).filter(Boolean).map((line) => line.split(/\s/)[0].replace(/^[A-Z]{6}\+/, ""));
}

/** Prints what is at an address: how many pages come out, the words of each, in which faces, and where the file is. */
export async function printed(page, address, folder, format = "A4") {
  await page.goto(address);
  const name = new URL(address).pathname.replaceAll("/", "-").slice(1);
  const file = path.join(folder, `${name}-${format}.pdf`);
  await writeFile(file, await page.pdf({ format, preferCSSPageSize: true }));
  const [info, text, faces] = await Promise.all([
    run("pdfinfo", [file]),
    run("pdftotext", ["-layout", file, "-"]),
    facesOf(file),
  ]);
  const pages = Number(info.stdout.match(/Pages:\s+(\d+)/)[1]);
  // a form feed ends each page
  return { file, faces, pages, text: text.stdout, words: text.stdout.split("\f").slice(0, pages) };
}
