// Plays the card. Beeps are handed to the sound system well ahead, with the time at which each shall leave;
// flashes are drawn in the refresh that is nearest to the time at which the beep is heard, as far as the browser
// knows it. Nothing flashes and nothing sounds before somebody taps.
"use strict";
(() => {
  const player = document.getElementById("player");
  const start = document.getElementById("start");
  const warned = document.getElementById("warned");
  const shown = document.getElementById("loudness");
  const say = document.getElementById("say");
  const facts = document.getElementById("facts");
  const stage = document.getElementById("stage");
  const area = document.getElementById("area");

  const number = (name) => Number(player.dataset[name]);
  const intervals = player.dataset.intervals.split(" ").map((ms) => Number(ms) / 1000);
  const flash = number("flashMs") / 1000;
  const AHEAD = 2.5; // s of sound that is handed over before it is due: more than a busy page is ever late
  const LEAD_IN = 2; // s of black after the tap, to step back
  const TOO_LATE = 0.12; // s of output latency from which the way of the sound is taken for a radio link

  const Audio = window.AudioContext || window.webkitAudioContext;
  const LOUDEST = 10;
  let run = null; // what plays now

  function way() {
    const picked = document.querySelector("input[name=way]:checked");
    return picked ? picked.value : "";
  }

  function check() {
    let text = "";
    if (!Audio) text = "This browser can not time sound. Play a file.";
    else if (way() === "air") text = "Not over Bluetooth: it delays the sound by 100 to 300 ms, differently each time. Plug in a cable or use the device's own loudspeaker.";
    else if (!way()) text = "Say how the sound leaves, and that everybody is warned.";
    else if (!warned.checked) text = "Warn everybody who can see this screen first.";
    start.disabled = text !== "";
    say.textContent = text || "It starts silent: turn it up, step by step, until the microphone just hears it.";
  }

  // The tone, sample by sample, as every file of the card has it.
  function makeBeep(context) {
    const rate = context.sampleRate;
    const length = Math.round(number("beepMs") / 1000 * rate);
    const attack = number("attackMs") / 1000 * rate;
    const decay = number("decayMs") / 1000 * rate;
    const peak = 10 ** (number("levelDbfs") / 20);
    const buffer = context.createBuffer(1, length, rate);
    const samples = buffer.getChannelData(0);
    for (let n = 0; n < length; n++) {
      const envelope = Math.min(1, n / attack, (length - n) / decay);
      samples[n] = peak * envelope * Math.sin(2 * Math.PI * number("toneHz") * n / rate);
    }
    return buffer;
  }

  // The clock of the sound that is heard now minus the page's, s. The browser's word on it jitters by a few
  // milliseconds, and jumps when the sound system changes.
  function apart() {
    const { context } = run;
    const stamp = context.getOutputTimestamp ? context.getOutputTimestamp() : null;
    const now = stamp && stamp.performanceTime > 0
      ? stamp.contextTime - stamp.performanceTime / 1000
      : context.currentTime - (context.outputLatency || context.baseLatency || 0) - performance.now() / 1000;
    if (run.apart === null || Math.abs(now - run.apart) > 0.05) run.apart = now;
    else run.apart += (now - run.apart) * 0.05;
    return run.apart;
  }

  function begin() {
    const context = new Audio({ latencyHint: "interactive" });
    const gain = context.createGain();
    gain.gain.value = 0;
    gain.connect(context.destination);
    run = {
      context, gain, beep: makeBeep(context), due: context.currentTime + LEAD_IN, next: 0, events: [],
      refresh: 1 / 60, last: 0, lit: false, timer: 0, frame: 0, lock: null, latest: 0, loudness: 0, apart: null, skipped: 0,
    };
    setLoudness(0);
    if (context.resume) context.resume();
    stage.hidden = false;
    stage.focus();
    if (stage.requestFullscreen) stage.requestFullscreen({ navigationUI: "hide" }).catch(() => {});
    if (navigator.wakeLock) navigator.wakeLock.request("screen").then((lock) => { if (run) run.lock = lock; else lock.release(); }, () => {});
    run.timer = setInterval(handOver, 200);
    handOver();
    run.frame = requestAnimationFrame(draw);
  }

  // Each step but the first is 4 dB; the loudest is the level of the files.
  function setLoudness(steps) {
    run.loudness = Math.max(0, Math.min(LOUDEST, steps));
    const gain = run.loudness === 0 ? 0 : 10 ** ((run.loudness - LOUDEST) * 4 / 20);
    run.gain.gain.setTargetAtTime(gain, run.context.currentTime, 0.02);
    shown.textContent = run.loudness === 0 ? "silent" : `${run.loudness} of ${LOUDEST}`;
  }

  function handOver() {
    const { context } = run;
    const latency = context.outputLatency || 0;
    if (latency > TOO_LATE) {
      stop(`The sound leaves ${Math.round(latency * 1000)} ms late: that is a radio link, such as Bluetooth. Plug in a cable or use the device's own loudspeaker.`);
      return;
    }
    if (context.currentTime > run.due) { // the page slept: go on from here rather than all at once
      run.due = context.currentTime + LEAD_IN;
    }
    while (run.due < context.currentTime + AHEAD) {
      const source = context.createBufferSource();
      source.buffer = run.beep;
      source.connect(run.gain);
      source.start(run.due);
      run.events.push(run.due);
      run.due += intervals[run.next];
      run.next = (run.next + 1) % intervals.length;
    }
  }

  // now is the time of the refresh in ms. What is drawn now is seen one refresh later at the earliest. A flash that
  // would come more than a refresh late is left out: a missing one does no harm, a late one is a wrong measurement.
  function draw(now) {
    if (!run) return;
    const step = now / 1000 - run.last;
    run.last = now / 1000;
    if (step > 0.002 && step < 0.05) run.refresh += (step - run.refresh) * 0.05;
    const heard = now / 1000 + run.refresh + apart(); // on the clock of the sound, when this picture is seen
    const { events } = run;
    if (run.lit && events[0] + flash - run.refresh / 2 <= heard) {
      events.shift();
      light(false);
    }
    while (!run.lit && events.length && events[0] + run.refresh < heard) {
      events.shift();
      run.skipped++;
    }
    if (!run.lit && events.length && events[0] - run.refresh / 2 <= heard) {
      run.latest = heard - events[0];
      light(true);
    }
    run.frame = requestAnimationFrame(draw);
  }

  function light(lit) {
    run.lit = lit;
    area.classList.toggle("lit", lit);
  }

  function stop(why) {
    if (!run) return;
    const ended = run;
    run = null;
    clearInterval(ended.timer);
    cancelAnimationFrame(ended.frame);
    area.classList.remove("lit");
    stage.hidden = true;
    if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
    if (ended.lock) ended.lock.release();
    const out = ended.context.outputLatency;
    facts.hidden = false;
    facts.textContent = `The browser says that its sound leaves ${out ? Math.round(out * 1000) + " ms" : "at a time it does not know"} after it is made, ` +
      `which is taken into account, and refreshes ${(1 / ended.refresh).toFixed(1)} times a second. ` +
      `The last flash was drawn ${Math.abs(ended.latest * 1000).toFixed(1)} ms ${ended.latest < 0 ? "before" : "after"} its beep; each lands within half a refresh.` +
      (ended.skipped ? ` ${ended.skipped} flashes were left out, because the browser was busy when they were due.` : "");
    ended.context.close();
    check();
    if (why) say.textContent = why;
    start.focus();
  }

  start.addEventListener("click", () => { if (!run && !start.disabled) begin(); });
  document.getElementById("stop").addEventListener("click", () => stop());
  document.getElementById("louder").addEventListener("click", () => setLoudness(run.loudness + 1));
  document.getElementById("quieter").addEventListener("click", () => setLoudness(run.loudness - 1));
  area.addEventListener("click", () => stop());
  document.addEventListener("keydown", (event) => {
    if (!run) return;
    const keys = { Escape: () => stop(), ArrowUp: () => setLoudness(run.loudness + 1), ArrowDown: () => setLoudness(run.loudness - 1) };
    if (keys[event.key]) {
      event.preventDefault();
      keys[event.key]();
    }
  });
  document.addEventListener("visibilitychange", () => { if (document.hidden) stop("Stopped, because the page was not in front."); });
  document.addEventListener("fullscreenchange", () => { if (run && !document.fullscreenElement) stop(); });
  addEventListener("pagehide", () => stop());
  player.addEventListener("change", check);
  player.hidden = false;
  check();
})();
