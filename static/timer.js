// Counts down the time a shutter is open. Goes by the clock, not by ticks, so that a sleeping phone
// does not make it wrong.
"use strict";

const clock = document.querySelector("[data-shutter]");
if (clock) {
  const whole = Number(clock.dataset.shutter);
  const find = (name) => clock.querySelector(`[data-shutter-${name}]`);
  const [left, words, start, stop, sound] = ["left", "words", "start", "stop", "sound"].map(find);
  const figures = (ms) => {
    const seconds = Math.max(0, Math.ceil(ms / 1000 - 1e-9));
    const [hours, minutes, rest] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60];
    const two = (number) => String(number).padStart(2, "0");
    if (hours) return `${hours}:${two(minutes)}:${two(rest)}`;
    return seconds >= 60 ? `${minutes}:${two(rest)}` : `${rest} s`;
  };
  // the time that was counted goes along to the form where it is written down
  const record = document.querySelector("[data-shutter-record]");
  const carry = (ms) => {
    const to = new URL(record.href);
    to.searchParams.set("made", `${Math.round(ms / 100) / 10} s`);
    to.searchParams.set("by", "clock");
    record.href = to.href;
  };
  let opened = 0;
  let ticking = 0;
  let tone = null;
  let awake = null;

  const ring = () => {
    if (!tone) return;
    for (const at of [0, 0.35, 0.7]) {
      const note = tone.createOscillator();
      const volume = tone.createGain();
      note.frequency.value = 880;
      volume.gain.value = 0.4;
      note.connect(volume).connect(tone.destination);
      note.start(tone.currentTime + at);
      note.stop(tone.currentTime + at + 0.2);
    }
  };
  const rest = () => {
    clearInterval(ticking);
    awake?.release().catch(() => {});
    awake = null;
    start.hidden = false;
    stop.hidden = true;
    start.focus();
  };
  const tick = () => {
    const remaining = opened + whole - Date.now();
    left.textContent = figures(remaining);
    if (remaining > 0) return;
    rest();
    carry(whole);
    clock.classList.add("over");
    words.textContent = "Close the shutter now. Leave the phone outside the dark room.";
    ring();
    navigator.vibrate?.([200, 100, 200]);
  };

  start.addEventListener("click", () => {
    const wanted = sound.querySelector("input").checked;
    // a browser lets a page sound only after a press
    tone = wanted && window.AudioContext ? (tone ?? new AudioContext()) : null;
    navigator.wakeLock?.request("screen").then((lock) => (awake = lock)).catch(() => {});
    opened = Date.now();
    clock.classList.remove("over");
    words.textContent = "The shutter is open. Hold still.";
    start.hidden = true;
    stop.hidden = false;
    stop.focus();
    clearInterval(ticking);
    ticking = setInterval(tick, 100);
    tick();
  });
  stop.addEventListener("click", () => {
    const was = Math.round((Date.now() - opened) / 100) / 10;
    rest();
    carry(was * 1000);
    left.textContent = figures(whole);
    words.textContent = `Closed after ${was} s. It goes along when you write it down. Leave the phone outside the dark room.`;
  });
  document.querySelector("[data-shutter-buttons]").hidden = false;
  sound.hidden = false;
  left.textContent = figures(whole);
}
