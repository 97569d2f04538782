// The curve so far as inline SVG: dry kilograms against flushing hours, zero-based, measured points with markers.
const WIDTH = 336, HEIGHT = 180, LEFT = 44, RIGHT = 12, TOP = 24, BOTTOM = 38;

export function curve(minutes, kg) {
  const hours = minutes.map((each) => each / 60);
  const [xs, ys] = [ticks(Math.max(0.25, hours.at(-1) ?? 0)), ticks(Math.max(0.05, ...kg))];
  const x = (value) => LEFT + (WIDTH - LEFT - RIGHT) * value / xs.at(-1);
  const y = (value) => HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * value / ys.at(-1);
  const points = [[0, 0], ...hours.map((each, at) => [each, kg[at]])].map(([a, b]) => [x(a).toFixed(1), y(b).toFixed(1)]);
  const svg = element("svg", { class: "curve", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img" });
  const last = kg.length ? `${kg.at(-1).toFixed(2)} kg dry after ${hours.at(-1).toFixed(1)} h` : "no weighing yet";
  svg.setAttribute("aria-label", `Caught so far: ${last}, ${kg.length} weighings.`);
  for (const value of ys) {
    svg.append(element("line", { class: "grid", x1: LEFT, x2: WIDTH - RIGHT, y1: y(value), y2: y(value) }));
    svg.append(text(LEFT - 6, y(value) + 4, String(value), "end"));
  }
  for (const value of xs) svg.append(text(x(value), HEIGHT - BOTTOM + 18, String(value), "middle"));
  svg.append(text(4, 14, "Caught, dry [kg]", "start"));
  svg.append(text(WIDTH - RIGHT, HEIGHT - 4, "Flushing hours [h]", "end"));
  svg.append(element("polyline", { class: "line", points: points.map((point) => point.join(",")).join(" ") }));
  for (const [cx, cy] of points.slice(1)) svg.append(element("circle", { class: "dot", cx, cy, r: 4 }));
  return svg;
}

function ticks(most) {
  const rough = most / 3;
  const ten = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((each) => each * ten).find((each) => each >= rough);
  const count = Math.ceil(most / step - 1e-9);
  return Array.from({ length: count + 1 }, (_, at) => Number((at * step).toPrecision(6)));
}

function element(name, attributes) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

function text(x, y, words, anchor) {
  const made = element("text", { x, y, "text-anchor": anchor });
  made.textContent = words;
  return made;
}
