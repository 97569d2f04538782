// Making elements: text goes in as text, so what somebody typed is never read as markup.
export const byId = (id) => document.getElementById(id);

export function make(name, attributes = {}, ...inside) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (value === true) made.setAttribute(key, "");
    else if (value !== false && value !== null && value !== undefined) made.setAttribute(key, value);
  }
  made.append(...inside.filter((each) => each !== null && each !== undefined && each !== ""));
  return made;
}

export const clock = (ms) => new Date(ms).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });

export function place(number, emitters) {
  if (number === null || number === undefined) return "whole system";
  const room = emitters.find((each) => each.emitter_no === number)?.room;
  return room ? `${room} (${number})` : `radiator ${number}`;
}

export function words(entry, emitters) {
  const { kind, of } = entry;
  const where = place(of.focus_emitter_no, emitters);
  if (kind === "catch") return `${of.mass_g} g ${of.weighed ?? "wet"}, ${TRAPS[of.trap].toLowerCase()}, ${where}`;
  if (kind === "focus") return `flow on ${where}`;
  if (kind === "undo") return `taken back: ${entry.undone ?? "an entry"}`;
  return FIGURES.filter(([name]) => name in of).map(([name, label, unit]) => `${label} ${of[name]} ${unit}`.trim()).join(", ");
}

export const TRAPS = { magnet: "Magnet", strainer: "Strainer", machine_base: "Machine base" };
export const FIGURES = [
  ["flow_l_min", "Flow", "L/min"],
  ["pressure_bar", "Pressure", "bar"],
  ["flow_temp_c", "Flow temperature", "°C"],
  ["return_temp_c", "Return temperature", "°C"],
  ["turbidity_ntu", "Turbidity", "NTU"],
  ["conductivity_us_cm", "Conductivity", "µS/cm"],
  ["ph", "pH", ""],
];
