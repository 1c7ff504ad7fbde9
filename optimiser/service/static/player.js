/** Clips that run side by side and are switched between without a click: all play, one is heard. */

const RATE_HZ = 48000;
const RAMP_S = 0.01;
const START_S = 0.06;

let shared = null;

/** The audio context; made by a tap, as browsers demand. */
function context() {
  shared ??= new AudioContext({ sampleRate: RATE_HZ });
  return shared;
}

export class Player {
  /** `clips` are WAV files by name; `changed` is called when it starts, stops or switches. */
  constructor(clips, changed = () => {}) {
    this.bytes = clips;
    this.changed = changed;
    this.heard = Object.keys(clips)[0];
    this.playing = false;
    this.loop = true;
    this.place = 0;
    this.voices = {};
    this.buffers = null;
  }

  get seconds() {
    return this.buffers ? Math.min(...Object.values(this.buffers).map((buffer) => buffer.duration)) : 0;
  }

  async ready() {
    if (this.buffers) return;
    const names = Object.keys(this.bytes);
    const decoded = await Promise.all(names.map((name) => context().decodeAudioData(this.bytes[name].slice(0))));
    this.buffers = Object.fromEntries(names.map((name, place) => [name, decoded[place]]));
  }

  /** Seconds from the start of the clips. */
  now() {
    if (!this.playing) return this.place;
    const run = Math.max(0, context().currentTime - this.began);
    return this.loop ? (this.place + run) % this.seconds : Math.min(this.seconds, this.place + run);
  }

  async play() {
    const audio = context();
    await audio.resume();
    await this.ready();
    if (this.playing) return;
    if (this.place >= this.seconds - RAMP_S) this.place = 0;
    const when = audio.currentTime + START_S;
    for (const [name, buffer] of Object.entries(this.buffers)) {
      const source = new AudioBufferSourceNode(audio, { buffer, loop: this.loop, loopEnd: this.seconds });
      const gain = new GainNode(audio, { gain: name === this.heard ? 1 : 0 });
      source.connect(gain).connect(audio.destination);
      source.start(when, this.place);
      this.voices[name] = { source, gain };
    }
    this.began = when;
    this.playing = true;
    this.voices[this.heard].source.addEventListener("ended", () => { if (this.playing && !this.loop && this.now() >= this.seconds - 0.05) this.stop(0); });
    this.changed(this);
  }

  pause() {
    if (this.playing) this.stop(this.now());
  }

  stop(place) {
    const audio = context();
    this.playing = false;
    this.place = place;
    for (const { source, gain } of Object.values(this.voices)) {
      gain.gain.cancelScheduledValues(audio.currentTime);
      gain.gain.setTargetAtTime(0, audio.currentTime, RAMP_S / 4);
      source.stop(audio.currentTime + 2 * RAMP_S);
    }
    this.voices = {};
    this.changed(this);
  }

  /** Hear another clip from the same instant on: one fades out while the other fades in. */
  hear(name) {
    const audio = context();
    if (this.playing) {
      for (const [other, { gain }] of Object.entries(this.voices)) {
        gain.gain.cancelScheduledValues(audio.currentTime);
        gain.gain.setValueAtTime(gain.gain.value, audio.currentTime);
        gain.gain.linearRampToValueAtTime(other === name ? 1 : 0, audio.currentTime + RAMP_S);
      }
    }
    this.heard = name;
    this.changed(this);
  }

  async seek(place) {
    const was = this.playing;
    if (was) this.stop(0);
    this.place = Math.min(Math.max(0, place), Math.max(0, this.seconds - RAMP_S));
    if (was) await this.play();
    this.changed(this);
  }

  async setLoop(loop) {
    const was = this.playing;
    if (was) this.pause();
    this.loop = loop;
    if (was) await this.play();
  }

  close() {
    if (this.playing) this.stop(0);
  }
}
