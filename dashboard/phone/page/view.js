// Draws a job from the last state that the server gave and the entries that are still kept on this phone.
import { curve } from "./curve.js";
import { byId, clock, make, place, words } from "./dom.js";

const NEW_MS = 120_000; // a forecast older than this is called an old one

// A part is drawn anew only where it says something else: a reader's place and the focus stay.
function show(where, ...parts) {
  const made = make("div", {}, ...parts);
  if (made.innerHTML !== where.innerHTML) where.replaceChildren(...made.childNodes);
}

export function drawJobs(jobs) {
  const rows = jobs.map((job) => make("li", {}, make("a", { class: "link", href: `#${encodeURIComponent(job.name)}` },
    `${job.name}: flow on ${job.flow_on}${job.last_weighed_at ? `, weighed ${clock(job.last_weighed_at)}` : ""}`)));
  show(byId("jobs"), make("h2", {}, "Open jobs"), rows.length ? make("ul", {}, ...rows)
    : make("p", {}, "No job is open. Begin one on the dashboard, then come back here."),
  make("a", { class: "link", href: "../watch-the-catch" }, "Begin a job on the dashboard"));
}

export function drawJob({ state, kept, ahead, hasSignal, drop }) {
  const now = Date.now() + ahead;
  const own = kept.filter((entry) => entry.job === state.name);
  show(byId("job"), ...forecast(state, own, now, hasSignal), ...since(state, own, now, ahead),
    make("h2", {}, "Caught so far"), curve(state.curve_minutes, state.curve_kg), ...outside(state, own), table(state, own),
    make("h2", {}, "Entries"), list(state, own, drop),
    make("a", { class: "link", href: "../watch-the-catch" }, "Finish the job on the dashboard"),
    make("p", { class: "quiet" }, "Hot water scalds: cool and depressurise before a trap is opened. Keep magnets away from pacemakers."));
}

function forecast(state, own, now, hasSignal) {
  const found = state.forecast;
  const warned = state.warnings.map((sentence) => make("p", { class: "note" }, sentence));
  if (!found) return [make("p", { class: "answer" }, state.instead || "Weigh the first catch."), ...warned];
  const waits = own.filter((entry) => !entry.refused).length;
  const isOld = waits > 0 || !hasSignal || now - state.server_ms > NEW_MS;
  const without = waits ? `, without ${waits} kept on this phone` : "";
  return [
    make("p", { class: isOld ? "answer old" : "answer", id: "answer" }, found.answer),
    make("p", { class: isOld ? "note wrong" : "quiet", id: "as-of" },
      `${isOld ? "Old forecast, as of" : "As of"} ${clock(found.at)}${without}.`),
    ...(found.where_next ? [make("p", {}, found.where_next)] : []), ...warned];
}

function since(state, own, now, ahead) {
  const weighed = standing(own, "catch").map((entry) => entry.at_ms + ahead);
  const last = Math.max(state.last_weighed_at ?? 0, ...weighed);
  const focus = focusOf(state, own);
  const minutes = Math.max(0, Math.floor((now - last) / 60_000));
  const line = last ? `Last weighed ${minutes} min ago, at ${clock(last)}.` : `Flow since ${clock(state.started_at)}; nothing weighed yet.`;
  return [make("p", { id: "since", class: "number" }, line), make("p", { id: "flow-on" }, `Flow on ${place(focus, state.emitters)}.`)];
}

const takenBack = (own) => new Set(own.filter((entry) => entry.kind === "undo" && !entry.refused).map((entry) => entry.of.undoes));

function standing(own, kind) {
  const taken = takenBack(own);
  return own.filter((entry) => entry.kind === kind && !entry.refused && !taken.has(entry.id));
}

export function focusOf(state, own) {
  const moved = standing(own, "focus").at(-1);
  return moved ? moved.of.focus_emitter_no : state.focus_emitter_no;
}

function outside(state, own) {
  const count = standing(own, "catch").length;
  const pace = state.house_pace_g_min === null ? [] : [make("p", { class: "quiet" }, `Last pace of the house: ${grams(state.house_pace_g_min)} dry.`)];
  return count ? [make("p", { class: "note" }, `Not in the curve yet: ${count} ${count > 1 ? "weighings" : "weighing"} kept on this phone.`), ...pace] : pace;
}

const grams = (pace) => `${Number(pace.toPrecision(2))} g/min`;

function table(state, own) {
  if (!state.emitters.length) return null;
  const focus = focusOf(state, own);
  const rows = state.emitters.map((each) => {
    const name = each.room ? `${each.emitter_no} ${each.room}` : `Radiator ${each.emitter_no}`;
    const here = each.emitter_no === focus ? " (flow is here)" : "";
    return make("tr", { class: here ? "here" : "" }, make("th", { scope: "row" }, name + here, make("br"), make("small", {}, [each.kind, each.state].filter(Boolean).join(", "))),
      make("td", { class: "number" }, each.last_pace_g_min === null ? "not weighed alone" : grams(each.last_pace_g_min)));
  });
  return make("table", {}, make("thead", {}, make("tr", {}, make("th", { scope: "col" }, "Radiator"), make("th", { scope: "col" }, "Last pace, dry"))),
    make("tbody", {}, ...rows));
}

function list(state, own, drop) {
  const waiting = own.toReversed().map((entry) => make("li", { class: "kept" }, make("span", {}, `${clock(entry.at_ms)} ${words(entry, state.emitters)}`),
    make("br"), make("strong", {}, entry.refused ?? "Kept on this phone"),
    entry.refused ? make("button", { type: "button", onclick: () => drop(entry) }, "Remove it from this phone") : null));
  const saved = state.entries.map((entry) => make("li", { class: entry.is_undone ? "undone" : "" },
    make("span", {}, `${clock(entry.at)} ${entry.words}`), make("small", {}, entry.is_undone ? " taken back" : " saved")));
  return make("ul", { id: "entries" }, ...waiting, ...saved);
}

export function lastToTakeBack(state, own) {
  const live = own.filter((entry) => !entry.refused);
  const taken = takenBack(own);
  const kept = live.filter((entry) => entry.kind !== "undo" && !taken.has(entry.id)).at(-1);
  if (kept) return { id: kept.id, words: words(kept, state.emitters) };
  return state.entries.find((entry) => entry.may_be_taken_back && !taken.has(entry.id)) ?? null;
}
