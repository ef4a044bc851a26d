// Across the room: sentence, number, distance and verdict, nothing else, as large as they go. Key F or a tap on the figure
// opens it, a tap or F or Escape leaves it. The number is the one that is judged.
import { $, plain, set, write } from "./draw.js";
import { Figures } from "./figures.js";

export class Room {
  constructor() {
    this.view = $("room");
    this.figures = new Figures($("room-figure"));
    this.view.addEventListener("click", () => this.toggle());
    $("figure").addEventListener("click", () => this.toggle());
    document.addEventListener("keydown", (event) => { if (event.key === "Escape" && !this.view.hidden) this.toggle(); });
    document.addEventListener("fullscreenchange", () => { if (!document.fullscreenElement && !this.view.hidden && this.full) this.toggle(); });
  }

  toggle() {
    const open = this.view.hidden;
    this.view.hidden = !open;
    set(document.body, { "data-room": open ? "yes" : null });
    if (open) document.documentElement.requestFullscreen?.().then(() => { this.full = true; }, () => { this.full = false; });
    else if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
    if (!open) this.full = false;
  }

  draw(sheet) {
    write($("room-sentence"), sheet.step.sentence);
    const cell = sheet.cells.find((one) => one.state === "now");
    // The verdict is that of what was just captured, not of what stood there before.
    const verdict = sheet.step.state === "captured" && cell && cell.value_deg !== null ? cell.verdict : null;
    write($("room-verdict"), verdict ? `${cell.mark} ${verdict.replace("_", " ")}` : "");
    set($("room-verdict"), { class: verdict });
  }

  live(live, sheet) {
    const judged = live?.travel_deg ?? live?.angle_deg ?? null;
    this.figures.show(judged, false);
    // Once everything is moved again nothing is judged on the way.
    const target = sheet?.step.instruction.kind === "sweep" ? null : sheet?.section.target;
    let said = "";
    let inside = null;
    if (judged !== null && target) {
      const by = target.kind === "band" ? target.tolerance_deg - Math.abs(judged - target.value_deg) : target.value_deg - Math.abs(judged);
      inside = by >= 0;
      said = `${plain(by)} ${target.kind === "band" ? (inside ? "inside" : "outside") : inside ? "under" : "over"}`;
    }
    write($("room-distance"), said);
    set($("room-distance"), { class: inside === null ? null : inside ? "inside" : "outside" });
  }
}
