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
