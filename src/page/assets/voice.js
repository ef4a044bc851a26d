// What is spoken and what is sounded. Neither is ever the only cue: each says what also stands on the sheet.
// Browsers allow sound only after a touch, so both begin with the click on the arm-switch.

const stored = (name, otherwise) => {
  try {
    const kept = localStorage.getItem(`clinoblade.${name}`);
    return kept === null ? otherwise : kept === "on";
  } catch {
    return otherwise; // a browser that keeps nothing still works
  }
};
const store = (name, on) => {
  try {
    localStorage.setItem(`clinoblade.${name}`, on ? "on" : "off");
  } catch { /* kept for this page only */ }
};

export class Voice {
  constructor() {
    this.wanted = null;
  }

  get on() {
    return this.wanted ?? stored("voice", this.otherwise ?? true);
  }

  switch(on) {
    this.wanted = on;
    store("voice", on);
    if (!on) window.speechSynthesis?.cancel();
  }

  /** Called from a click: the first utterance must come from one. */
  begin() {
    if (this.on && window.speechSynthesis) window.speechSynthesis.speak(new SpeechSynthesisUtterance(""));
  }

  say(text) {
    const synth = window.speechSynthesis;
    if (!this.on || !synth || document.hidden) return;
    // Two sentences may queue; a third means the first is old news.
    if (synth.pending) synth.cancel();
    const words = new SpeechSynthesisUtterance(text);
    words.lang = "en";
    words.rate = 1.05;
    synth.speak(words);
  }
}

const MARKS = {
  captured: [[660, 0, 0.12], [990, 0.13, 0.3]],
  refused: [[220, 0, 0.35]],
  question: [[520, 0, 0.14], [660, 0.17, 0.14], [590, 0.34, 0.32]],
  "let go": [[196, 0, 0.22], [196, 0.3, 0.22], [196, 0.6, 0.22]],
  knock: [[110, 0, 0.1]],
  redo: [[660, 0, 0.12], [440, 0.14, 0.26]],
};

/** The tone that closes in: beats quicken and the pitch rises toward the target; on it, one even note. */
export class Tone {
  constructor() {
    this.wanted = null;
    this.tone = null;
    this.alive = 0;
    this.timer = 0;
  }

  get on() {
    return this.wanted ?? stored("tones", this.otherwise ?? true);
  }

  switch(on) {
    this.wanted = on;
    store("tones", on);
    if (!on) this.follow(null);
  }

  begin() {
    const Context = window.AudioContext;
    if (!Context) return;
    this.context ??= new Context();
    if (this.context.state === "suspended") this.context.resume().catch(() => {});
  }

  /** Every live value says that the feed is there; a tone must not go on when it is not. */
  beat() {
    this.alive = performance.now();
  }

  follow(tone) {
    this.tone = tone;
    if (tone && this.on && !this.timer) this.pulse();
  }

  pulse() {
    this.timer = 0;
    const { tone } = this;
    if (!tone || !this.on || performance.now() - this.alive > 1500) return;
    const near = 1 - Math.min(1, Math.max(0, tone.distance));
    if (tone.side === "inside") {
      this.note(784, 0, 0.16, 0.1, "sine");
      this.timer = setTimeout(() => this.pulse(), 160);
      return;
    }
    const pitch = tone.side === "over" ? 1046 : 294 * 2 ** (1.2 * near);
    if (tone.side === "over") this.note(932, 0.07, 0.07, 0.12, "triangle");
    this.note(pitch, 0, 0.07, 0.14, "triangle");
    this.timer = setTimeout(() => this.pulse(), 620 - 500 * near);
  }

  mark(name) {
    if (!this.on) return;
    (MARKS[name] ?? []).forEach(([pitch, after, length]) => this.note(pitch, after, length, 0.22, name === "knock" ? "square" : "triangle"));
  }

  note(pitch, after, length, loud, wave) {
    const { context } = this;
    if (!context || context.state !== "running") return;
    const from = context.currentTime + after;
    const oscillator = new OscillatorNode(context, { type: wave, frequency: pitch });
    const gain = new GainNode(context, { gain: 0 });
    gain.gain.setValueAtTime(0, from);
    gain.gain.linearRampToValueAtTime(loud, from + 0.012);
    gain.gain.setTargetAtTime(0, from + length * 0.7, length * 0.12);
    oscillator.connect(gain).connect(context.destination);
    oscillator.start(from);
    oscillator.stop(from + length + 0.15);
  }
}
