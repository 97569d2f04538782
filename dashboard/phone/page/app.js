// The page of the phone: opens what is kept, shows the job, takes entries, and tells at every moment what is saved.
// Order of every entry: kept on this phone → sent → on the server's disk → "saved".
import { byId, clock, make, words } from "./dom.js";
import { move, reading, weigh } from "./forms.js";
import { ask, NoSignal, sender } from "./send.js";
import { deviceId, newId, openStore } from "./store.js";
import { drawJob, drawJobs, focusOf, lastToTakeBack } from "./view.js";

const LOOK_MS = 10_000; // how often the page looks for entries of other phones and a newer forecast
const store = await openStore();
const device = await deviceId(store);
const here = { state: null, jobs: [], kept: [], hasSignal: navigator.onLine, ahead: 0, weighed: "wet", fault: "", isBehind: false };
const sending = sender(store, device, { answered, reached, failed });

function jobName() {
  try {
    return decodeURIComponent(location.hash.slice(1));
  } catch {
    return "";
  }
}

function answered(entries, answer) {
  const last = answer.results.at(-1);
  const entry = entries.find((each) => each.id === last?.id);
  if (last?.state === "saved") say(`Saved ${clock(last.saved_at)}: ${words(entry, here.state?.emitters ?? [])}`);
  const refused = answer.results.find((result) => result.state === "refused");
  if (refused) say(refused.sentence);
  note("clock", answer.clock_sentence);
  here.isBehind = true;
}

function reached() {
  if (!here.isBehind) return signal(true);
  here.isBehind = false;
  return look();
}

function failed(problem) {
  here.fault = problem instanceof NoSignal ? "" : problem.message;
  signal(!(problem instanceof NoSignal));
}

async function signal(hasSignal) {
  here.hasSignal = hasSignal;
  if (hasSignal && !(await sending.waiting()).length) here.fault = "";
  await draw();
}

function say(sentence) {
  byId("said").textContent = sentence;
}

function note(name, sentence) {
  const standing = byId(`note-${name}`);
  if (standing?.textContent === sentence) return;
  standing?.remove();
  if (sentence) byId("notes").append(make("p", { id: `note-${name}`, class: "note", role: "status" }, sentence));
}

async function look() {
  const name = jobName();
  try {
    if (name) {
      const state = await ask(`job/${encodeURIComponent(name)}`);
      here.ahead = state.server_ms - Date.now();
      await store.put("states", { ...state, ahead: here.ahead });
      const isLate = here.state?.name === name && here.state.lines > state.lines; // asked before the newest entry
      if (jobName() === name && !isLate) here.state = state;
    } else {
      here.jobs = (await ask("jobs")).jobs;
      await store.put("facts", { name: "jobs", jobs: here.jobs });
    }
    here.hasSignal = true;
    note("job", "");
  } catch (problem) {
    here.hasSignal = !(problem instanceof NoSignal);
    note("job", here.hasSignal ? problem.message : "");
  }
  await draw();
}

async function recall() {
  const name = jobName();
  here.jobs = (await store.get("facts", "jobs"))?.jobs ?? [];
  here.state = name ? (await store.get("states", name)) ?? null : null;
  if (here.state) here.ahead = here.state.ahead;
}

async function draw() {
  here.kept = await store.all("entries");
  const name = jobName();
  byId("title").textContent = name || "On site";
  const waits = here.kept.filter((entry) => !entry.refused).length;
  const refused = here.kept.length - waits;
  const parts = [here.hasSignal ? "Connected" : "No signal", waits ? `${waits} kept on this phone` : "all saved"];
  if (refused) parts.push(`${refused} not saved`);
  byId("signal").textContent = (waits || here.hasSignal || refused) ? parts.join(" · ") : "No signal · nothing waits";
  note("fault", here.fault);
  byId("jobs").hidden = Boolean(name);
  byId("job").hidden = byId("bar").hidden = !name || !here.state;
  if (!name) drawJobs(here.jobs);
  if (name && here.state) {
    drawJob({ ...here, drop });
    byId("undo").disabled = !lastToTakeBack(here.state, own());
    for (const id of ["weigh", "reading", "move"]) byId(id).disabled = here.state.is_finished;
  } else if (name && !here.hasSignal) note("job", "This job was never opened on this phone; it takes signal once.");
}

const own = () => here.kept.filter((entry) => entry.job === jobName());

async function keep(kind, of, at_ms, more = {}) {
  const entry = { id: newId(), job: jobName(), kind, of, at_ms, ...more };
  try {
    await store.put("entries", entry);
  } catch {
    return "This phone could not keep it: its storage is full. Free some space, then save again.";
  }
  if (kind === "catch") here.weighed = of.weighed;
  say(`Kept on this phone: ${words(entry, here.state.emitters)}`);
  await draw();
  sending.send();
  return undefined;
}

async function drop(entry) {
  await store.remove("entries", entry.seq);
  await draw();
}

function lastMass() {
  return own().filter((entry) => entry.kind === "catch" && !entry.refused).at(-1)?.of.mass_g ?? here.state.last_mass_g;
}

const asked = () => ({ focus: focusOf(here.state, own()), last: lastMass(), weighed: here.weighed, keep });

byId("weigh").addEventListener("click", () => weigh(here.state, asked()));
byId("reading").addEventListener("click", () => reading(here.state, asked()));
byId("move").addEventListener("click", () => move(here.state, asked()));
byId("undo").addEventListener("click", async () => {
  const last = lastToTakeBack(here.state, own());
  if (last) say((await keep("undo", { undoes: last.id }, Date.now(), { undone: last.words })) ?? `Taking back: ${last.words}`);
});

async function tellWhatHolds() {
  note("store", store.isLasting ? "" : "This browser keeps nothing (a private window?): entries live only while this page is open. "
    + "Use an ordinary window before the job begins.");
  let worker = null;
  try {
    worker = await navigator.serviceWorker?.register("worker.js");
    if (worker) navigator.serviceWorker.ready.then(() => { document.documentElement.dataset.opens = "without signal"; });
  } catch {
    worker = null;
  }
  note("reload", worker ? "" : "Do not reload or close this page without signal: over plain http this browser cannot open it again.");
}

async function stayAwake() {
  if (document.visibilityState !== "visible" || !jobName()) return;
  await navigator.wakeLock?.request("screen").catch(() => null);
}

addEventListener("online", () => { sending.send(); look(); });
addEventListener("offline", () => signal(false));
addEventListener("hashchange", async () => {
  await recall();
  await draw();
  byId("title").focus();
  stayAwake();
  await look();
});
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState !== "visible") return;
  stayAwake();
  sending.send();
  look();
});

await recall();
await draw();
tellWhatHolds();
stayAwake();
sending.send();
await look();
if (!jobName() && here.jobs.length === 1) location.hash = encodeURIComponent(here.jobs[0].name);
setInterval(look, LOOK_MS);
