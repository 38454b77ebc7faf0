// Starts the real program on an invented section and reads how to enter from what it prints.

import { spawn } from "node:child_process";
import { once } from "node:events";
import { createInterface } from "node:readline";
import { fileURLToPath } from "node:url";
import path from "node:path";

/** The evening on which every story plays, unless it says otherwise. */
export const EVENING = "2026-03-20T18:30:00Z";

export const PROGRAM =
  process.env.SHIMLIGHT_PROGRAM ??
  path.resolve(path.dirname(fileURLToPath(import.meta.url)), "../../target/debug/shimlight");

/**
 * A demo being served on a free port. `ways` holds what it printed: `address`, `signInName`,
 * `password`, `doorCode`, `rosterNumber`, `familyName` and, once it prints one, `seatKey`.
 */
export async function startDemo({ at = EVENING, options = [] } = {}) {
  const child = spawn(PROGRAM, ["demo", "--listen", "127.0.0.1:0", "--at", at, ...options], {
    stdio: ["ignore", "pipe", "pipe"],
  });
  let log = "";
  child.stderr.on("data", (chunk) => (log += chunk));
  const ways = {};
  const lines = createInterface({ input: child.stdout });
  const told = (async () => {
    for await (const line of lines) {
      read(line, ways);
      if (line.startsWith("Ctrl-C")) return;
    }
    throw new Error(`the demo ended before it served:\n${log}`);
  })();
  await told;
  // keep reading, so that the program never waits for us
  lines.on("line", () => {});
  return {
    ...ways,
    log: () => log,
    async stop() {
      if (child.exitCode !== null) return child.exitCode;
      child.kill("SIGTERM");
      const [code] = await once(child, "exit");
      return code;
    },
  };
}

/** Serves a database that is there already, on a given port. */
export async function startServer(database, port) {
  const options = ["serve", "--database", database, "--listen", `127.0.0.1:${port}`];
  const child = spawn(PROGRAM, options, { stdio: ["ignore", "pipe", "pipe"] });
  child.stderr.resume();
  for await (const line of createInterface({ input: child.stdout })) {
    if (line.includes("http://")) break;
  }
  return {
    async stop() {
      child.kill("SIGTERM");
      await once(child, "exit");
    },
  };
}

/** A server on a database that is not there yet; `firstLink` makes the first instructor's account. */
export async function startNewServer(database) {
  const child = spawn(PROGRAM, ["serve", "--database", database, "--listen", "127.0.0.1:0"], {
    stdio: ["ignore", "pipe", "pipe"],
  });
  child.stderr.resume();
  let firstLink = "";
  const lines = createInterface({ input: child.stdout });
  for await (const line of lines) {
    const found = line.match(/(http:\S+\/first\/\S+)/);
    if (found) {
      firstLink = found[1];
      break;
    }
  }
  lines.on("line", () => {});
  return {
    firstLink,
    async stop() {
      child.kill("SIGTERM");
      await once(child, "exit");
    },
  };
}

function read(line, ways) {
  const found = (name, pattern) => {
    const match = line.match(pattern);
    if (match) ways[name] = match[1];
  };
  found("address", /^Open (http:\S+)/);
  found("signInName", /as the instructor: +sign-in name ([^,]+),/);
  found("password", /as the instructor: .*password (\S+)/);
  found("doorCode", /door code (\S+?)(,|$)/);
  found("rosterNumber", /roster number ([^,]+),/);
  found("familyName", /family name (.+)$/);
  found("seatKey", /seat key (.+)$/);
}
