// The soft metronome. Clicks are put on the sound card's own clock a little ahead, so that they keep time whatever
// else the browser does.

const AHEAD_S = 0.3;
const LOOK_MS = 100;
const LOUDNESS = 0.12;

let context = null;
let timer = null;
let nextAt = 0;
let perMinute = null;
let paceText = null;

function click(at) {
  const tone = context.createOscillator();
  const volume = context.createGain();
  tone.frequency.value = 520;
  volume.gain.setValueAtTime(0, at);
  volume.gain.linearRampToValueAtTime(LOUDNESS, at + 0.008);
  volume.gain.exponentialRampToValueAtTime(0.0001, at + 0.12);
  tone.connect(volume).connect(context.destination);
  tone.start(at);
  tone.stop(at + 0.13);
}

function schedule() {
  if (!perMinute) return;
  const now = context.currentTime;
  if (nextAt < now) nextAt = now + 0.05;
  while (nextAt < now + AHEAD_S) {
    click(nextAt);
    nextAt += 60 / perMinute;
  }
}

export const beat = {
  get on() {
    return timer !== null;
  },
  /** Follow this pace of a wheel; null is silent. */
  follow(pace) {
    perMinute = pace?.per_min >= 10 && pace.per_min <= 300 ? pace.per_min : null;
    paceText = perMinute && pace.text;
  },
  /** The pace that is followed, as text; null if there is none. */
  get pace() {
    return paceText;
  },
  /** Begin to sound; only after a key or a click, as browsers ask. */
  async start() {
    context ??= new AudioContext();
    await context.resume();
    nextAt = 0;
    timer ??= setInterval(schedule, LOOK_MS);
  },
  async stop() {
    clearInterval(timer);
    timer = null;
    await context?.suspend();
  },
};
