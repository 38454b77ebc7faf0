// What the programs of the stories are told about the computer: the same everywhere.

/** So long is waited for what will come, however busy the machine is, in milliseconds. */
export const PATIENCE = 300_000;

/** The variables with which `tests/anywhere` moves the date. */
const DATE = /^(LD_PRELOAD|FAKETIME|NO_FAKE_STAT)/;

const those = (wanted) => Object.fromEntries(Object.entries(process.env).filter(([name]) => wanted(name)));

/**
 * An environment in which the settings, zone and language of whoever runs the stories play no part, nor a
 * moved date: a browser does not start under one.
 */
export function ownEnvironment() {
  const kept = those((name) => !/^(SHIMLIGHT_|LC_|LANG)|_proxy$/i.test(name) && !DATE.test(name));
  return { ...kept, TZ: "UTC", LC_ALL: "C.UTF-8" };
}

/** The same for the program, which lives at the moved date. */
export const programsEnvironment = () => ({ ...ownEnvironment(), ...those((name) => DATE.test(name)) });
