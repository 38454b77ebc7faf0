// Takes the README's pictures from the demo: node tests/browser/pictures.js [PROGRAM is built first]

import { execFile } from "node:child_process";
import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import path from "node:path";
import { fileURLToPath } from "node:url";
import { promisify } from "node:util";

import { launch, newPerson } from "./chromium.js";
import { startDemo } from "./demo.js";
import { signIn, takeSeat } from "./people.js";

const into = path.join(path.dirname(fileURLToPath(import.meta.url)), "pictures");
const SIZE = { width: 900, height: 760 };

const [demo, browser] = await Promise.all([startDemo(), launch()]);
const folder = await mkdtemp(path.join(tmpdir(), "shimlight-pictures-"));
try {
  const take = (page, name) => page.screenshot({ path: path.join(into, `${name}.png`) });
  const student = await newPerson(browser, { viewport: SIZE });
  await takeSeat(student.page, demo);
  await take(student.page, "bench");
  await student.page.goto(`${demo.address}/bench/hole/optics`);
  await student.page.waitForLoadState("networkidle").catch(() => {});
  await take(student.page, "optics");

  const staff = await newPerson(browser, { viewport: SIZE });
  await signIn(staff.page, demo);
  await staff.page.getByRole("link", { name: "Quillmere afternoon section" }).first().click();
  await staff.page.getByRole("link", { name: /Second light/ }).first().click();
  const session = staff.page.url();
  await staff.page.goto(`${session}/floor`);
  await staff.page.locator("table.lines").waitFor();
  await take(staff.page, "floor");
  await staff.page.goto(`${session}/cards`);
  const pdf = path.join(folder, "cards.pdf");
  await writeFile(pdf, await staff.page.pdf({ format: "A4", preferCSSPageSize: true }));
  await promisify(execFile)("pdftoppm", ["-png", "-r", "80", "-f", "1", "-singlefile", pdf, path.join(into, "cards")]);
} finally {
  await browser.close();
  await demo.stop();
  await rm(folder, { recursive: true });
}
