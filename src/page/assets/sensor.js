// The sensor: what is in use, and what each port says.
import { $, at, html, redraw, svg } from "./draw.js";
import { button, deed, get, refuse } from "./place.js";

const EVERY_MS = 2500;
let shown = "";

async function show() {
  const { answer: state, refused } = await get("/api/state");
  refuse(refused);
  if (refused) return;
  const key = JSON.stringify(state.sensor);
  if (key === shown) return;
  shown = key;
  const line = state.sensor;
  const good = ["reading", "found"].includes(line.kind);
  redraw($("now"),
    ...(line.source ? [html("p", { class: "sensor-name" }, line.source)] : []),
    html("p", { class: `sensor-said ${good ? "ok" : "not"}`, role: "status", "data-kind": line.kind }, `${good ? "✓" : "✗"} ${line.said}`),
    html("ul", { class: "known" }, ...line.known.map((text) => html("li", {}, text))));
  $("ports-title").parentElement.hidden = state.simulated;
  redraw($("ports"), ...(line.ports.length ? line.ports.map((port) => html("div", { class: "helicopter" },
    html("span", { class: "name" }, port.path), html("span", { class: "last" }, port.said),
    html("span", { class: "row" }, button("Use this port", () => use(port.path), { "aria-label": `Use ${port.path}` })))) : [html("p", { class: "lead" }, "No serial port is there. Plug the sensor in: it appears by itself.")]));
}

async function use(port) {
  const { refused } = await deed({ do: "use_port", port });
  refuse(refused);
  shown = "";
  if (!refused) show();
}

// The sensor's case as it is to be leaned, the next direction up; its axes are printed on it.
function drawn(up) {
  const [x, y, z] = up;
  const side = Math.hypot(x, y) > 0.01 ? [-y, x, 0] : [1, 0, 0];
  const length = Math.hypot(...side);
  const a = side.map((v) => v / length);
  const b = [y * a[2] - z * a[1], z * a[0] - x * a[2], x * a[1] - y * a[0]];
  // World: to the right a, away b, up the direction wanted; seen from above at an angle.
  const dot = (p, q) => p[0] * q[0] + p[1] * q[1] + p[2] * q[2];
  const seen = (p) => [130 + 62 * (dot(p, a) * 0.87 - dot(p, b) * 0.5), 120 - 62 * (dot(p, up) * 0.87 + (dot(p, a) * 0.5 + dot(p, b) * 0.87) * 0.45)];
  // Toward whoever looks: square to both directions of the paper.
  const near = (p) => -0.435 * dot(p, a) - 0.757 * dot(p, b) + 0.452 * dot(p, up);
  const faces = [0, 1, 2].flatMap((axis) => [1, -1].map((sign) => {
    const n = [0, 0, 0];
    n[axis] = sign;
    const [u, v] = [0, 1, 2].filter((one) => one !== axis);
    const corner = (p, q) => { const c = [...n]; c[u] = p; c[v] = q; return seen(c.map((value, i) => value * [0.9, 0.65, 0.35][i])); };
    return { name: `${sign > 0 ? "+" : "−"}${"xyz"[axis]}`, near: near(n), corners: [corner(-1, -1), corner(1, -1), corner(1, 1), corner(-1, 1)], centre: seen(n.map((value, i) => value * [0.9, 0.65, 0.35][i])) };
  })).filter((face) => face.near > 0.02).sort((p, q) => p.near - q.near);
  return svg("svg", { viewBox: "0 0 260 230", role: "img", class: "case", "aria-label": "The sensor as it is to be leaned" },
    ...faces.map((face) => svg("path", { d: `M${face.corners.map(at).join("L")}Z` })),
    ...faces.filter((face) => face.near > 0.3).map((face) => svg("text", { x: face.centre[0], y: face.centre[1] + 6, "text-anchor": "middle" }, face.name)),
    svg("path", { class: "up", d: "M236 96V40M228 52L236 40L244 52" }), svg("text", { x: 236, y: 116, "text-anchor": "middle" }, "up"));
}

// What is covered: the sphere of directions from +z and from −z, a dot a rest, a ring where the next would teach most.
function sphere(tumble) {
  const place = ([x, y, z], back) => {
    const r = Math.sqrt(Math.max(0, 2 * (1 - Math.abs(z)))) * 0.7071 * 70;
    const l = Math.hypot(x, y) || 1;
    return [back ? 240 + (r * x) / l : 80 + (r * x) / l, 80 - (r * y) / l];
  };
  const dot = (v, more) => { const [cx, cy] = place(v, v[2] < 0); return svg("circle", { cx, cy, ...more }); };
  return svg("svg", { viewBox: "0 0 320 180", role: "img", class: "sphere", "aria-label": `${Math.round(100 * tumble.share)} percent of the sphere covered` },
    svg("circle", { cx: 80, cy: 80, r: 70, class: "disc" }), svg("circle", { cx: 240, cy: 80, r: 70, class: "disc" }),
    svg("text", { x: 80, y: 174, "text-anchor": "middle" }, "+z up"), svg("text", { x: 240, y: 174, "text-anchor": "middle" }, "−z up"),
    ...tumble.rests.map((v) => dot(v, { r: 5, class: "rested" })), tumble.next ? dot(tumble.next, { r: 9, class: "wanted" }) : null);
}

let told = "";
async function tumble() {
  const { answer: now, refused } = await get("/api/tumble");
  if (refused) return;
  const key = JSON.stringify(now);
  if (key === told) return;
  told = key;
  if (!now) return redraw($("tumble-body"),
    html("p", { class: "lead" }, "Lean the sensor against something in a dozen attitudes and let go each time. Every rest is recorded by itself. The setup on the bench waits meanwhile."),
    html("p", { class: "row" }, button("Begin the tumble", () => act({ do: "tumble" }), { class: "first", id: "begin-tumble" })));
  redraw($("tumble-body"),
    html("p", { class: `sensor-said ${now.running ? "" : now.kept ? "ok" : "not"}`, role: "status", id: "tumble-said" }, now.said),
    ...(now.next ? [drawn(now.next)] : []),
    sphere(now),
    html("p", { class: "known" }, `${now.have} of ${now.wanted} rests, ${Math.round(100 * now.share)} % of the sphere covered. ${now.last}`),
    html("p", { class: "row" }, button(now.running ? "Leave it" : "Go on", () => act({ do: "leave_tumble" }), { id: "leave-tumble", class: now.running ? "" : "first" })));
}

async function act(what) {
  const { refused } = await deed(what);
  refuse(refused);
  told = "";
  await tumble();
}

tumble();
setInterval(() => document.hidden || tumble(), 700);
show();
setInterval(() => document.hidden || show(), EVERY_MS);
