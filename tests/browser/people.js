// Who walks in, and how.

/** The instructor signs in at the door. */
export async function signIn(page, demo) {
  await page.goto(demo.address);
  await page.getByLabel("Sign-in name").fill(demo.signInName);
  await page.getByLabel("Password").fill(demo.password);
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.waitForURL("**/front");
}

/** A student who has been here before comes back with the seat key. */
export async function takeSeat(page, demo) {
  await page.goto(demo.address);
  await page.getByLabel("Seat key").fill(demo.seatKey);
  await page.getByRole("button", { name: "Come back" }).click();
  await page.waitForURL("**/bench");
}

/** A student who has never been here takes a seat; gives the four words. */
export async function joinWithTheDoorCode(page, demo) {
  await page.goto(demo.address);
  await page.getByLabel("Door code").fill(demo.doorCode);
  await page.getByLabel("Roster number").fill(demo.rosterNumber);
  await page.getByLabel("Family name").fill(demo.familyName);
  await page.getByRole("button", { name: "Take my seat" }).click();
  const key = await page.locator(".reading .value").innerText();
  await page.getByRole("button", { name: "It is on paper" }).click();
  await page.waitForURL("**/bench");
  return key;
}

/** Nothing sticks out sideways. */
export async function fitsTheScreen(page) {
  const { wide, screen } = await page.evaluate(() => ({
    wide: document.scrollingElement.scrollWidth,
    screen: document.documentElement.clientWidth,
  }));
  if (wide > screen) throw new Error(`${page.url()} is ${wide} px wide on a screen of ${screen} px`);
}
