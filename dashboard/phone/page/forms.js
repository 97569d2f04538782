// The three forms: a catch, a reading, the radiator that has the flow. Each hands over one entry and closes.
import { FIGURES, TRAPS, byId, make, place } from "./dom.js";

const KEYS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0", "⌫"];
const NAMES = { "⌫": "Delete the last figure", ".": "Point" };

function open(title, parts, save, label) {
  const dialog = byId("form");
  const wrong = make("p", { role: "alert", class: "note wrong", hidden: true });
  const close = () => dialog.close();
  const form = make("form", { method: "dialog", novalidate: true, onsubmit: submit },
    make("h2", { id: "form-title" }, title), ...parts, wrong,
    make("div", { class: "pair end" }, make("button", { class: "main" }, label),
      make("button", { type: "button", onclick: close }, "Close")));

  async function submit(event) {
    event.preventDefault();
    const fault = await save(new FormData(form));
    wrong.hidden = !fault;
    wrong.textContent = fault ?? "";
    if (!fault) close();
  }
  dialog.replaceChildren(form);
  dialog.showModal();
}

function keys(legend, name, choices, chosen) {
  return make("fieldset", {}, make("legend", {}, legend), ...Object.entries(choices).map(([value, label]) =>
    make("label", { class: "key" }, make("input", { type: "radio", name, value, checked: value === chosen }), make("span", {}, label))));
}

function radiators(state, focus, label = "Flow was on") {
  const options = [null, ...state.emitters.map((each) => each.emitter_no)].map((number) => {
    const kind = state.emitters.find((each) => each.emitter_no === number)?.kind;
    const words = place(number, state.emitters);
    const said = words[0].toUpperCase() + words.slice(1) + (kind ? `, ${kind}` : "");
    return make("option", { value: number ?? "", selected: number === focus }, said);
  });
  return make("label", {}, label, make("select", { name: "focus_emitter_no" }, ...options));
}

const ago = () => make("label", {}, "Minutes ago",
  make("input", { name: "ago", type: "number", inputmode: "numeric", min: 0, max: 1440, value: 0 }));

const number = (words) => Number(String(words).replace(",", "."));
const emitterOf = (data) => (data.get("focus_emitter_no") ? Number(data.get("focus_emitter_no")) : null);

function madeAt(data) {
  const minutes = number(data.get("ago") || 0);
  if (!(minutes >= 0 && minutes <= 1440)) return { fault: "Minutes ago must lie in 0 to 1440." };
  return { at_ms: Date.now() - minutes * 60_000 };
}

function pad(input) {
  const press = (key) => () => {
    input.value = key === "⌫" ? input.value.slice(0, -1) : input.value + key;
  };
  return make("div", { class: "pad", role: "group", "aria-label": "Number pad" }, ...KEYS.map((key) =>
    make("button", { type: "button", onclick: press(key), "aria-label": NAMES[key] }, key)));
}

export function weigh(state, { focus, last, weighed, keep }) {
  const input = make("input", { id: "grams", name: "mass_g", inputmode: "none", autocomplete: "off", autofocus: true });
  const offer = last === null ? null : make("button", { type: "button", onclick: () => { input.value = String(last); } }, `Last: ${last} g`);
  const grams = make("label", {}, "Mass [g]", input);
  const aside = make("details", {}, make("summary", { class: "key" }, make("span", {}, "A while ago")), ago());
  const parts = [make("div", { class: offer ? "pair" : "" }, grams, offer), pad(input), radiators(state, focus),
    keys("Where from", "trap", TRAPS, "magnet"), keys("Weighed", "weighed", { wet: "Wet", dry: "Dry" }, weighed), aside];
  open("Weigh a catch", parts, async (data) => {
    const mass = number(data.get("mass_g"));
    if (data.get("mass_g").trim() === "" || !(mass >= 0 && mass <= 20_000)) return "Enter the grams, 0 to 20,000.";
    const made = madeAt(data);
    if (made.fault) return made.fault;
    const of = { mass_g: mass, trap: data.get("trap"), weighed: data.get("weighed"), focus_emitter_no: emitterOf(data) };
    return keep("catch", of, made.at_ms);
  }, "Save this catch");
}

export function reading(state, { focus, keep }) {
  const fields = FIGURES.map(([name, label, unit]) => make("label", {}, unit ? `${label} [${unit}]` : label,
    make("input", { name, inputmode: "decimal", autocomplete: "off" })));
  open("Note a reading", [make("div", { class: "pair" }, ...fields), radiators(state, focus), ago()], async (data) => {
    const given = FIGURES.filter(([name]) => data.get(name).trim() !== "");
    if (!given.length) return "Enter at least one figure.";
    const bad = given.find(([name]) => !Number.isFinite(number(data.get(name))));
    if (bad) return `${bad[1]} is no number.`;
    const made = madeAt(data);
    if (made.fault) return made.fault;
    const of = Object.fromEntries(given.map(([name]) => [name, number(data.get(name))]));
    return keep("reading", { ...of, focus_emitter_no: emitterOf(data) }, made.at_ms);
  }, "Save this reading");
}

export function move(state, { focus, keep }) {
  open("Change radiator", [radiators(state, focus, "Flow is now on"), ago()], async (data) => {
    const made = madeAt(data);
    return made.fault ?? keep("focus", { focus_emitter_no: emitterOf(data) }, made.at_ms);
  }, "Save");
}
