// The console in the browser: taps that are never lost, ages counted here, parts swapped in place.
// Plain script, no framework. Everything shown was escaped by the server; what is written here is
// set as text, never as markup, but for parts, which the server rendered.
"use strict";

const body = document.body;
const VIEW = body.dataset.view || "";
const DEVICE = body.dataset.device || "";
const GUARD = document.querySelector('meta[name="guard"]')?.content || "";
const QUEUE = `neckring.taps.${body.dataset.run || ""}.${DEVICE}`;
const SILENT_AFTER = 3.5; // seconds without a word from the desk, which speaks every second
const AGAIN_AFTER = 1000; // milliseconds between two tries
const seconds = () => performance.now() / 1000;
const all = (selector, within = document) => [...within.querySelectorAll(selector)];

// ---- the desk's clocks, as seen from here -------------------------------------------------

const clock = { wall: null, monotonic: null, run: 0, speed: 0, at: seconds(), trip: Infinity, frozen: true };

async function measureClock() {
  for (let attempt = 0; attempt < 4; attempt += 1) {
    const sent = seconds();
    const sentWall = Date.now() / 1000;
    const told = await (await fetch("/api/v1/clock", { cache: "no-store" })).json();
    const trip = seconds() - sent;
    // A shorter trip says the time more surely; an old measurement is worth less each minute.
    if (trip > clock.trip + (sent - clock.at) / 600 && clock.wall !== null) continue;
    Object.assign(clock, {
      wall: told.wall - (sentWall + trip / 2), monotonic: told.monotonic, run: told.run_time,
      speed: told.speed, at: sent + trip / 2, trip, frozen: told.stands,
    });
  }
  say("[data-offset]", clock.wall === null ? "not measured"
    : `${clock.wall >= 0 ? "+" : "−"}${Math.abs(clock.wall).toFixed(1)} s, trip ${(clock.trip * 1000).toFixed(0)} ms`);
}

const passed = () => seconds() - clock.at;
const monotonicNow = () => clock.monotonic + passed();
const runNow = () => clock.run + (clock.frozen ? 0 : clock.speed * passed());

// ---- words for times ----------------------------------------------------------------------

function span(time, fine = true) {
  const whole = Math.floor(Math.abs(time));
  const [hours, minutes, rest] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  const two = (n) => String(n).padStart(2, "0");
  if (!fine && whole >= 120) return `${Math.floor(whole / 60)} min`;
  return hours ? `${hours}:${two(minutes)}:${two(rest)}` : `${two(minutes)}:${two(rest)}`;
}

const ageWords = (age) => (age < 1.5 ? "now" : age < 120 ? `${age.toFixed(0)} s ago` : `${Math.floor(age / 60)} min ago`);

function say(selector, words) {
  for (const place of all(selector)) if (place.textContent !== words) place.textContent = words;
}

function countTimes() {
  if (clock.monotonic === null) return;
  const now = runNow();
  say("[data-run-time]", span(now));
  for (const place of all("[data-since]")) place.textContent = span(now - Number(place.dataset.since));
  for (const place of all("[data-until]")) {
    const left = Number(place.dataset.until) - now;
    const words = left >= 0 ? span(left) : `over by ${span(left)}`;
    if (place.textContent !== words) place.textContent = words;
    place.closest("[data-counts]")?.classList.toggle("over", left < 0);
  }
  for (const place of all("[data-received]")) {
    if (place.dataset.received === "") continue;
    const age = Math.max(0, monotonicNow() - Number(place.dataset.received));
    const stale = age > Number(place.dataset.staleAfter || 10);
    const aged = VIEW === "wall" ? `${ageWords(age).replace(" ago", "")} stale` : `${ageWords(age)}: stale`;
    place.textContent = stale ? aged : ageWords(age);
    place.closest("[data-channel]")?.classList.toggle("flawed", stale || place.dataset.flaws !== "");
  }
}

// ---- the queue of taps: kept on the tablet until the desk has each on disk ------------------

const taps = () => { try { return JSON.parse(localStorage.getItem(QUEUE) || "[]"); } catch { return []; } };
const keep = (queue) => localStorage.setItem(QUEUE, JSON.stringify(queue));
const forget = (key) => keep(taps().filter((tap) => tap.key !== key));

function newKey() {
  // randomUUID needs a secure context; a console on a local network has none.
  const drawn = crypto.getRandomValues(new Uint8Array(16));
  return [...drawn].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

function bodyOf(form) {
  const made = {};
  for (const field of all("input, textarea, select", form)) {
    if (!field.name.startsWith("body.") || field.disabled) continue;
    if ((field.type === "checkbox" || field.type === "radio") && !field.checked) continue;
    const path = field.name.slice(5).split(".");
    if (field.dataset.question !== undefined) path[1] = field.dataset.question;
    if (field.value === "" && !field.required) continue;
    let group = made;
    for (const step of path.slice(0, -1)) group = group[step] ??= {};
    group[path.at(-1)] = field.dataset.flag !== undefined ? true
      : field.dataset.number !== undefined ? Number(field.value) : field.value;
  }
  return made;
}

// What a form would have recorded: its kind and all that nobody types.
const meaning = (form) => JSON.stringify([form.dataset.deed,
  all("input[type=hidden]", form).filter((field) => field.name.startsWith("body.")).map((field) => [field.name, field.value])]);
const FREE_WORDS = ["note", "symptom"]; // two of these may well say the same

function tap(form) {
  const queue = taps();
  const made = { kind: form.dataset.deed, body: bodyOf(form) };
  const same = (each) => JSON.stringify([each.kind, each.body]) === JSON.stringify([made.kind, made.body]);
  if (!FREE_WORDS.includes(made.kind) && queue.some(same)) {
    tell(`It waits already: ${form.dataset.words || made.kind}.`, false);
    send();
    return;
  }
  queue.push({
    key: newKey(), ...made, words: form.dataset.words || form.dataset.deed,
    tapped_at: Date.now() / 1000, offset: clock.wall,
  });
  keep(queue);
  showQueue();
  if (made.kind === "card opened") cardWanted = seconds();
  for (const button of all("button[type=submit]", form)) button.classList.add("sent");
  send();
}

// Who opens a card wants to read it: its own page goes to it once it is there.
let cardWanted = -Infinity;

function goToCard(place, before) {
  const opened = all("section.card h3", place).find((title) => !before.has(title.id));
  if (!opened || seconds() - cardWanted > 30) return;
  cardWanted = -Infinity;
  opened.closest("section").scrollIntoView({ block: "start" });
}

// A glove taps twice where it meant once, and by the second tap the next step may stand there. What
// came into a part a moment ago takes no tap yet; a stop, a hold and a symptom always do, and so does
// whatever is reached by keyboard: its second Enter finds the focus elsewhere.
const SETTLES = 0.7; // seconds
const AT_ONCE = ["stop", "hold", "symptom", "note"];
const came = new Map();
let byFinger = false;

document.addEventListener("click", (event) => { byFinger = event.detail > 0; }, true);

function noteNew(place, before) {
  for (const form of all("form[data-deed]", place)) {
    const what = meaning(form);
    if (!before.has(what)) came.set(what, seconds());
  }
  for (const [what, at] of came) if (seconds() - at > SETTLES) came.delete(what);
}

function settled(form) {
  if (!byFinger || AT_ONCE.includes(form.dataset.deed) || seconds() - (came.get(meaning(form)) ?? -Infinity) > SETTLES) return true;
  tell(`Not taken: the page has just changed. Look, and tap again: ${form.dataset.words || form.dataset.deed}.`, true);
  return false;
}

let sending = false;
let unsentSince = null;

async function send() {
  if (sending) return;
  sending = true;
  try {
    for (let next = taps()[0]; next; next = taps()[0]) {
      const { words, ...deed } = next;
      const reply = await fetch("/api/v1/deeds", {
        method: "POST", body: JSON.stringify(deed), cache: "no-store",
        headers: { "content-type": "application/json", "x-neckring-guard": GUARD },
        signal: AbortSignal.timeout(10000),
      });
      if ([401, 408, 429].includes(reply.status) || reply.status >= 500) {
        const problem = await reply.json().catch(() => ({}));
        if (reply.status === 401) tell("This device is not paired any more. Its taps are kept: pair it again.", true);
        else tell(`Not recorded yet: ${problem.detail || reply.status}. It is sent again.`, true);
        break;
      }
      const answer = await reply.json();
      forget(next.key);
      showQueue();
      if (!reply.ok) tell(`Not taken: ${words}. ${answer.detail}`, true);
      else if (answer.why) tell(`Refused: ${words}. ${answer.why} (entry ${answer.number})`, true);
      else tell(`Recorded: ${words} (entry ${answer.number})`, false);
    }
  } catch {
    // The network or the desk is gone: the taps stay, and are sent when it is back.
  } finally {
    sending = false;
    showQueue();
    if (taps().length) setTimeout(send, AGAIN_AFTER);
  }
}

function showQueue() {
  const count = taps().length;
  unsentSince = count ? unsentSince ?? seconds() : null;
  const words = count ? `${count} ${count === 1 ? "tap" : "taps"} not yet recorded` : "every tap recorded";
  say("[data-unsent]", words);
  for (const place of all("[data-unsent-box]")) place.classList.toggle("waiting", count > 0);
  if (!count) for (const button of all("button.sent")) button.classList.remove("sent");
}

function tell(words, urgent) {
  const place = document.getElementById(urgent ? "told-urgent" : "told");
  if (!place) return;
  place.textContent = words;
  place.dataset.at = String(seconds());
}

// ---- forms: a tap at once, or a second button elsewhere -------------------------------------

let asked = null;

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.deed === undefined) return;
  event.preventDefault();
  if (!settled(form)) return;
  if (form.dataset.confirm) return ask(form);
  tap(form);
  if (form.dataset.clears !== undefined) form.reset();
});

function ask(form) {
  const box = document.getElementById("confirm");
  asked = form;
  document.getElementById("confirm-words").textContent = form.dataset.confirm;
  box.hidden = false;
  document.getElementById("confirm-no").focus();
}

function answered(yes) {
  const box = document.getElementById("confirm");
  box.hidden = true;
  const form = asked;
  asked = null;
  if (!form) return;
  if (yes) { tap(form); if (form.dataset.clears !== undefined) form.reset(); }
  (document.getElementById(form.id) || form).querySelector("button")?.focus();
}

document.getElementById("confirm-yes")?.addEventListener("click", () => answered(true));
document.getElementById("confirm-no")?.addEventListener("click", () => answered(false));
document.addEventListener("keydown", (event) => { if (event.key === "Escape" && asked) answered(false); });

// ---- parts, swapped in place with focus and what is being typed kept -----------------------

function swap(name, markup) {
  const place = document.querySelector(`[data-part="${CSS.escape(name)}"]`);
  if (!place) return;
  const active = place.contains(document.activeElement) ? document.activeElement : null;
  const kept = active && { id: active.id, start: active.selectionStart, end: active.selectionEnd };
  const typed = new Map(all("input[id], textarea[id], select[id]", place)
    .filter((field) => field.type !== "hidden").map((field) => [field.id, [field.value, field.checked]]));
  const open = all("details[id][open]", place).map((details) => details.id);
  const before = new Set(all("form[data-deed]", place).map(meaning));
  const titles = new Set(all("section.card h3", place).map((title) => title.id));
  const fresh = document.createElement("template");
  fresh.innerHTML = markup;
  place.replaceChildren(fresh.content);
  for (const [id, [value, checked]] of typed) {
    const field = document.getElementById(id);
    if (field && !field.dataset.fresh) { field.value = value; field.checked = checked; }
  }
  for (const id of open) document.getElementById(id)?.setAttribute("open", "");
  if (kept?.id) {
    const field = document.getElementById(kept.id);
    field?.focus({ preventScroll: true });
    if (field && kept.start !== null && kept.start !== undefined && field.setSelectionRange) {
      try { field.setSelectionRange(kept.start, kept.end); } catch { /* a field of another type */ }
    }
  } else if (active) { place.tabIndex = -1; place.focus({ preventScroll: true }); }
  noteNew(place, before);
  goToCard(place, titles);
  showQueue();
  countTimes();
  showReadings();
  fitWall();
}

// A wall cannot be scrolled: when much is up, what matters least is left out, then its letters are
// smaller, and it says from where they are read.
function fitWall() {
  if (VIEW !== "wall") return;
  const fits = () => document.documentElement.scrollHeight <= window.innerHeight + 4;
  const tights = ["tight-1", "tight-2", "tight-3"];
  body.classList.remove(...tights);
  for (const share of [1, 0.94, 0.88, 0.82, 0.76, 0.7, 0.6]) {
    body.style.setProperty("--letters", `${3.45 * share}vw`);
    say("[data-reach]", `${(4 * share).toFixed(1)} m: capitals ${Math.floor(23.6 * share)} mm`);
    for (const tight of share === 1 ? ["", ...tights] : [""]) {
      if (tight) body.classList.add(tight);
      if (fits()) return;
    }
  }
}

// ---- readings -------------------------------------------------------------------------------

const latest = new Map();

function showReadings() {
  for (const place of all("[data-channel]")) {
    const reading = latest.get(place.dataset.channel);
    if (!reading) continue;
    const value = place.querySelector("[data-value]");
    const age = place.querySelector("[data-received]");
    if (value) value.textContent = reading.shown;
    if (age) { age.dataset.received = String(reading.received); age.dataset.flaws = reading.flaws.join(", "); }
    const flaws = place.querySelector("[data-flaws-words]");
    if (flaws) flaws.textContent = reading.flaws.join(", ");
  }
}

// ---- charts: broken where nothing came -------------------------------------------------------

const charts = new Map();

async function makeCharts() {
  for (const place of all("[data-chart]")) {
    if (typeof uPlot === "undefined") { place.textContent = "No charts: the charting library is not installed. Numbers above are complete."; continue; }
    const told = await (await fetch(`/api/v1/readings?history=${encodeURIComponent(place.dataset.chart)}`, { cache: "no-store" })).json();
    const ink = getComputedStyle(body).color;
    const axis = { stroke: ink, font: "16px sans-serif", grid: { stroke: "#c9ccd1", width: 1 }, ticks: { stroke: "#c9ccd1" } };
    const minutes = (_, marks) => marks.map((at) => `${(at / 60).toFixed(at % 60 ? 1 : 0)}`);
    const steps = [10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200];
    const options = {
      width: Math.max(280, place.clientWidth), height: 220, legend: { show: false }, cursor: { show: false },
      scales: { x: { time: false }, y: { range: (_, low, high) => (low === null ? [0, 1] : [low - (high - low || 1) * 0.15, high + (high - low || 1) * 0.15]) } },
      axes: [{ ...axis, values: minutes, incrs: steps, space: 60, size: 40 }, { ...axis, size: 70 }],
      series: [{}, { stroke: "#005a8f", width: 3, spanGaps: false }],
    };
    const data = [[], []];
    place.replaceChildren();
    const chart = { plot: new uPlot(options, data, place), data, every: Number(place.dataset.every || 1) };
    for (const [at, value] of told.points) append(chart, at, value);
    chart.plot.setData(chart.data);
    charts.set(place.dataset.chart, chart);
  }
}

function append(chart, at, value) {
  const [times, values] = chart.data;
  const before = times.at(-1);
  if (before !== undefined && at <= before) return;
  if (before !== undefined && at - before > 3.5 * chart.every * Math.max(1, clock.speed)) { times.push(before + 0.001); values.push(null); }
  times.push(at);
  values.push(value);
}

function grow(reading) {
  const chart = charts.get(reading.channel);
  if (!chart) return;
  append(chart, reading.run_time, reading.flaws.length ? null : reading.figure);
  chart.plot.setData(chart.data);
}

// ---- sound, by rank; a browser makes none before the first touch ------------------------------

let audio = null;
let rank = 0;

function allowSound() {
  audio ??= new (window.AudioContext || window.webkitAudioContext)();
  audio.resume().then(showSound);
}

function showSound() {
  const on = audio?.state === "running";
  say("[data-sound]", on ? "Sound is on" : "Sound is off: touch");
  for (const place of all("[data-sound]")) place.setAttribute("aria-pressed", String(on));
}

function beep(pitch, at, lasts) {
  const [tone, gain] = [audio.createOscillator(), audio.createGain()];
  tone.frequency.value = pitch;
  gain.gain.setValueAtTime(0.0001, at);
  gain.gain.exponentialRampToValueAtTime(0.4, at + 0.02);
  gain.gain.setValueAtTime(0.4, at + lasts - 0.03);
  gain.gain.exponentialRampToValueAtTime(0.0001, at + lasts);
  tone.connect(gain).connect(audio.destination);
  tone.start(at);
  tone.stop(at + lasts);
}

const TUNES = { 3: [[880, 0.16], [880, 0.16], [880, 0.16], [1175, 0.16], [1175, 0.16]], 2: [[660, 0.2], [660, 0.2], [660, 0.2]], 1: [[440, 0.25]] };
const PAUSES = { 3: 2.5, 2: 8, 1: 25 };
let sounded = 0;

function sound() {
  if (!audio || audio.state !== "running" || !rank || seconds() - sounded < PAUSES[rank]) return;
  sounded = seconds();
  let at = audio.currentTime;
  for (const [pitch, lasts] of TUNES[rank]) { beep(pitch, at, lasts); at += lasts + 0.09; }
}

function setRank(now) { if (now > rank) sounded = 0; rank = now; }

// ---- the stream ---------------------------------------------------------------------------------

let source = null;
let heard = null;
let last = Number(body.dataset.entry || 0);

function listen() {
  source?.close();
  source = new EventSource(`/api/v1/stream?view=${encodeURIComponent(VIEW)}&after=${last}`);
  const on = (name, take) => source.addEventListener(name, (event) => { heard = seconds(); take(JSON.parse(event.data), event); });
  on("entry", (entry, event) => { last = Math.max(last, Number(event.lastEventId)); holdHead(entry); });
  on("part", (part) => swap(part.name, part.markup));
  on("readings", (told) => {
    Object.assign(clock, told.stands === clock.frozen && told.speed === clock.speed ? {} : { run: told.run_time, monotonic: told.monotonic, at: seconds(), speed: told.speed, frozen: told.stands });
    say("[data-speed]", told.speed === 1 ? "" : ` at ${told.speed} times real time`);
    for (const reading of told.latest) { latest.set(reading.channel, reading); grow(reading); }
    showReadings();
    fitWall();
  });
  on("alarm", (told) => setRank(told.loudest));
  on("estimate", () => {});
  source.onopen = () => { heard = seconds(); measureClock().catch(() => {}); send(); compareHead().catch(() => {}); };
}

// ---- the log's head, held here too: a log that was cut off at its end verifies by itself ---------

const HEAD = `neckring.head.${DEVICE || VIEW}`;
const held = () => { try { return JSON.parse(localStorage.getItem(HEAD) || "null"); } catch { return null; } };

function holdHead(entry) {
  if (!(held()?.number >= entry.number)) localStorage.setItem(HEAD, JSON.stringify({ number: entry.number, digest: entry.digest }));
}

async function compareHead() {
  const kept = held();
  if (!kept) return;
  const told = await (await fetch(`/api/v1/entries?after=${kept.number - 1}&most=1`, { cache: "no-store" })).json();
  const there = told.entries.find((entry) => entry.number === kept.number);
  const place = document.getElementById("told-head");
  if (!place) return;
  place.textContent = told.last < kept.number
    ? `Entries are missing at the end of the log: this tablet has seen ${kept.number}, the desk has ${told.last}.`
    : there && there.digest !== kept.digest ? `The log was changed: entry ${kept.number} is not the one that this tablet has seen.` : "";
  place.hidden = place.textContent === "";
}

function watchLink() {
  if (!source) return;
  const quiet = heard === null ? Infinity : seconds() - heard;
  const lost = quiet > SILENT_AFTER;
  if (body.classList.contains("link-lost") !== lost) { body.classList.toggle("link-lost", lost); fitWall(); }
  say("[data-link]", !lost ? "Link good"
    : heard === null ? "No link yet: what you see may be old"
    : VIEW === "wall" ? `Link lost ${span(quiet)}: old`
      : `Link lost for ${span(quiet, false)}: what you see is old. Taps are kept`);
  if (source.readyState === EventSource.CLOSED) listen();
  for (const [id, lasts] of [["told", 12], ["told-urgent", 60]]) {
    const told = document.getElementById(id);
    if (told?.dataset.at && seconds() - Number(told.dataset.at) > lasts) { told.textContent = ""; delete told.dataset.at; }
  }
}

// ---- the replay's slider -----------------------------------------------------------------------

const slider = document.getElementById("replay-at");

async function replayTo(at) {
  const told = await (await fetch(`/replay/parts?at=${encodeURIComponent(at)}`, { cache: "no-store" })).json();
  if (String(slider.value) !== String(at)) return;
  Object.assign(clock, { run: told.run_time, frozen: true, at: seconds() });
  for (const [name, markup] of Object.entries(told.parts)) swap(name, markup);
  slider.setAttribute("aria-valuetext", span(told.run_time));
}

slider?.addEventListener("input", () => replayTo(slider.value).catch(() => tell("The desk did not answer.", true)));

// ---- begin ----------------------------------------------------------------------------------------

document.addEventListener("click", (event) => {
  if (event.target.closest("[data-sound]")) allowSound();
  else if (audio === null && event.isTrusted && document.querySelector("[data-sound]")) allowSound();
});
body.classList.add("has-script");
fitWall();
showSound();
if (VIEW) {
  setRank(Number(body.dataset.loudest || 0));
  if (VIEW === "replay") { Object.assign(clock, { monotonic: 0, run: Number(body.dataset.at), frozen: true }); countTimes(); }
  else measureClock().catch(() => {}).finally(countTimes);
  if (body.dataset.streams !== undefined) { listen(); setInterval(watchLink, 500); setInterval(() => measureClock().catch(() => {}), 60000); }
  if (DEVICE) { showQueue(); send(); }
  setInterval(countTimes, 500);
  setInterval(sound, 500);
  makeCharts().catch(() => {});
}
