// What the programs of the stories are told about the computer: the same everywhere.

/** So long is waited for what will come, however busy the machine is, in milliseconds. */
export const PATIENCE = 300_000;

/** An environment in which the settings, zone and language of whoever runs the stories play no part. */
export function ownEnvironment() {
  const kept = Object.entries(process.env).filter(([name]) => !/^(SHIMLIGHT_|LC_|LANG)|_proxy$/i.test(name));
  return { ...Object.fromEntries(kept), TZ: "UTC", LC_ALL: "C.UTF-8" };
}
