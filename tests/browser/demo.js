// Starts the real program on an invented section and reads how to enter from what it prints.

import { spawn } from "node:child_process";
import { once } from "node:events";
import net from "node:net";
import { createInterface } from "node:readline";
import { fileURLToPath } from "node:url";
import path from "node:path";

import { programsEnvironment } from "./environment.js";

/** The evening on which every story plays, unless it says otherwise. */
export const EVENING = "2026-03-20T18:30:00Z";

export const PROGRAM =
  process.env.SHIMLIGHT_PROGRAM ??
  path.resolve(path.dirname(fileURLToPath(import.meta.url)), "../../target/debug/shimlight");

/** Starts the program and reads what it prints until `heard` has heard enough. */
async function start(options, heard) {
  const child = spawn(PROGRAM, options, { stdio: ["ignore", "pipe", "pipe"], env: programsEnvironment() });
  let log = "";
  child.stderr.on("data", (chunk) => (log += chunk));
  await new Promise((resolve, reject) => {
    child.on("error", reject);
    // once the story goes on, its end is no news
    child.on("close", () => reject(new Error(`${options[0]} ended before it served:\n${log}`)));
    // read to the end, so that the program never waits for us
    createInterface({ input: child.stdout }).on("line", (line) => heard(line) && resolve());
  });
  return {
    log: () => log,
    /** SIGTERM; gives the exit code once everything it said has been read. */
    async stop() {
      if (child.exitCode !== null || child.signalCode !== null) return child.exitCode;
      const closed = once(child, "close");
      child.kill("SIGTERM");
      const [code] = await closed;
      return code;
    },
  };
}

/**
 * A demo being served on a free port. `ways` holds what it printed: `address`, `signInName`,
 * `password`, `doorCode`, `rosterNumber`, `familyName` and, once it prints one, `seatKey`.
 */
export async function startDemo({ at = EVENING, options = [] } = {}) {
  const ways = {};
  const child = await start(["demo", "--listen", "127.0.0.1:0", "--at", at, ...options], (line) => {
    read(line, ways);
    return line.startsWith("Ctrl-C");
  });
  return { ...ways, ...child };
}

/** Serves a database that is there already, on a free port; gives its `address`. */
export async function startServer(database) {
  let address;
  const child = await start(["serve", "--database", database, "--listen", "127.0.0.1:0"], (line) => {
    address ??= line.match(/(http:\S+)/)?.[1];
    return address;
  });
  return { address, ...child };
}

/** A server on a database that is not there yet; `firstLink` makes the first instructor's account. */
export async function startNewServer(database) {
  let firstLink;
  const child = await start(["serve", "--database", database, "--listen", "127.0.0.1:0"], (line) => {
    firstLink ??= line.match(/(http:\S+\/first\/\S+)/)?.[1];
    return firstLink;
  });
  return { firstLink, ...child };
}

/**
 * An address that stays while the servers behind it come and go, each on whatever port is free: a port
 * that a server gave back may be somebody else's before the next one asks for it.
 */
export async function standingAddress() {
  let port = null;
  const door = net.createServer((caller) => {
    caller.on("error", () => {});
    if (port === null) return caller.destroy();
    const server = net.connect(port, "127.0.0.1");
    server.on("error", () => caller.destroy());
    server.on("close", () => caller.destroy());
    caller.on("close", () => server.destroy());
    caller.pipe(server).pipe(caller);
  });
  door.listen(0, "127.0.0.1");
  await once(door, "listening");
  return {
    address: `http://127.0.0.1:${door.address().port}`,
    leadsTo(address) {
      port = address && new URL(address).port;
    },
    close: () => door.close(),
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
