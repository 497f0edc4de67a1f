// The wheel: the speed within a turn as a curve around it, and where it stands now. Angles grow clockwise from the top.

const MIDDLE = 120;
const MEAN_R = 76;
const PX_PER_UNIT = 180; // a ring of 18 px is 10 %
const LEAST_R = 20;
const MOST_R = 110;
// between two states the wheel is drawn on at its last speed, for so long at most
const CARRY_MS = 600;

const still = matchMedia("(prefers-reduced-motion: reduce)");
const turning = new Set();
let running = false;

function point(turns, radius) {
  const angle = 2 * Math.PI * turns;
  return [MIDDLE + radius * Math.sin(angle), MIDDLE - radius * Math.cos(angle)];
}

/** A smooth closed curve: through the middles of the sides, bent at the points. */
function closedCurve(points) {
  const middle = ([ax, ay], [bx, by]) => `${((ax + bx) / 2).toFixed(1)} ${((ay + by) / 2).toFixed(1)}`;
  const n = points.length;
  let path = `M${middle(points[n - 1], points[0])}`;
  points.forEach((p, k) => {
    path += `Q${p[0].toFixed(1)} ${p[1].toFixed(1)} ${middle(p, points[(k + 1) % n])}`;
  });
  return `${path}Z`;
}

function draw(now) {
  running = false;
  for (const dial of turning) dial.turn(now);
  if (turning.size > 0 && !still.matches) start();
}

function start() {
  if (running) return;
  running = true;
  requestAnimationFrame(draw);
}

export class Dial {
  constructor(figure) {
    this.figure = figure;
    this.picture = figure.querySelector("svg");
    this.curve = figure.querySelector(".profile");
    this.spokes = figure.querySelector(".spokes");
    this.turns = figure.querySelector("[data-text=turns]");
    this.at = 0;
    this.perMs = 0;
    this.since = 0;
  }

  /** Show a profile; null hides the wheel. */
  show(profile, cadencePerMin, isTurning) {
    this.figure.hidden = !profile;
    if (!profile) {
      turning.delete(this);
      return;
    }
    const known = profile.angle_turns
      .map((turns, k) => [turns, profile.speed[k]])
      .filter(([, speed]) => Number.isFinite(speed))
      .map(([turns, speed]) =>
        point(turns, Math.min(MOST_R, Math.max(LEAST_R, MEAN_R + PX_PER_UNIT * (speed - 1)))),
      );
    this.curve.setAttribute("d", known.length > 2 ? closedCurve(known) : "");
    this.picture.setAttribute("aria-label", profile.text);
    if (this.turns.textContent !== String(profile.turns)) this.turns.textContent = profile.turns;
    if (profile.angle_now !== null) this.at = profile.angle_now;
    this.perMs = isTurning && cadencePerMin ? cadencePerMin / 60_000 : 0;
    this.since = performance.now();
    this.spokes.classList.toggle("unknown", profile.angle_now === null);
    if (this.perMs > 0) {
      turning.add(this);
      start();
    } else {
      turning.delete(this);
      this.turn(this.since);
    }
  }

  turn(now) {
    if (this.figure.offsetParent === null) return;
    const turns = this.at + this.perMs * Math.min(Math.max(now - this.since, 0), CARRY_MS);
    this.spokes.setAttribute("transform", `rotate(${((turns % 1) * 360).toFixed(1)} ${MIDDLE} ${MIDDLE})`);
  }
}
