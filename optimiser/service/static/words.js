/** Numbers and times as people say them. */

const NBSP = "\u00a0";

/** To so many decimals, as terminal and reports round: an exact half, where toFixed goes up, to the even neighbour. */
function fixed(value, digits) {
  const text = value.toFixed(digits);
  const halves = value * 2 ** (digits + 1);
  const isHalf = Number.isInteger(halves) && halves % 2 !== 0;
  return isHalf && Number(text.at(-1)) % 2 ? (value - Math.sign(value) * 10 ** -(digits + 1)).toFixed(digits) : text;
}

const round = (value) => Number(fixed(value, 0));

/** To three significant figures, whole numbers as they are. */
function significant(value) {
  return value === 0 ? 0 : Number(fixed(value, Math.max(0, 2 - Math.floor(Math.log10(Math.abs(value))))));
}

/** 13.5 is `1:30`, as the knob's clock face shows it. */
export function clock(hours) {
  const minutes = round(hours * 60);
  const whole = Math.floor(minutes / 60);
  return `${whole > 12 ? whole - 12 : whole}:${String(minutes % 60).padStart(2, "0")}`;
}

export function number(value, digits = 1) {
  return value === null || value === undefined ? "–" : fixed(value, digits);
}

export function percent(share) {
  if (share === null || share === undefined) return "–";
  if (share > 0 && share < 0.005) return `under 1${NBSP}%`;
  return share < 1 && share >= 0.995 ? `over 99${NBSP}%` : `${round(100 * share)}${NBSP}%`;
}

export function minutes(value) {
  if (value === null || value === undefined) return "–";
  if (value === 0) return "none";
  if (value < 1) return `${round(60 * value)}${NBSP}s`;
  const whole = round(value);
  if (whole < 60) return `${whole}${NBSP}min`;
  return whole % 60 ? `${Math.floor(whole / 60)}${NBSP}h ${whole % 60}${NBSP}min` : `${whole / 60}${NBSP}h`;
}

export function bytes(value) {
  return value < 1e6 ? `${Math.max(1, round(value / 1e3))}${NBSP}kB` : `${fixed(value / 1e6, 1)}${NBSP}MB`;
}

export function count(value, one, many) {
  return `${value}${NBSP}${value === 1 ? one : many}`;
}

/** `trial 8 of 20`; beyond that, how many over what was planned it is. Trials put aside have numbers, too. */
export function trialOf(trial, { measured, planned }) {
  if (trial <= planned) return `trial ${trial} of ${planned}`;
  const over = measured + 1 - planned;
  return over > 0 ? `trial ${trial}, ${over} over the ${planned} planned` : `trial ${trial}; ${measured} of the ${planned} planned are made`;
}

/** How many of the planned trials are measured. */
export function measuredOf({ measured, planned }) {
  return measured > planned ? `${measured} trials measured, ${measured - planned} over the ${planned} planned` : `${measured} of ${planned} planned trials measured`;
}

/** A score with half of its 90 % interval; with the interval's ends where it would pass an end of the scale. */
export function plusMinus(value, se, digits = 0) {
  if (se === null || se === undefined) return number(value, digits);
  const told = spreadOf(value, se, digits);
  return `${number(value, digits)} ${told.startsWith("±") ? told : `(${told})`}`;
}

/** Half of a score's 90 % interval as "± 6", its ends as "88 to 100" where it would pass an end of the scale. */
export function spreadOf(value, se, digits = 0) {
  const half = INTERVAL_SDS * se;
  const low = value - half;
  const high = value + half;
  if (value < 0 || value > 100 || (low >= 0 && high <= 100)) return `± ${number(half, digits)}`;
  return `${number(Math.max(0, low), digits)} to ${number(Math.min(100, high), digits)}`;
}

/** Standard deviations either side of the mean that hold 90 % of a normal distribution. */
export const INTERVAL_SDS = 1.645;

/** What ± means, wherever it stands on the page. */
export const SPREAD = "Every ± spans 90 % of what is believed; another take may differ by more.";

/** A trial's score with what its day reads high taken off, as it counts beside the scores of other days. */
export const levelOf = (trial) => trial.levelled ?? trial.overall;

/** Whether that is another figure than was measured. */
export const isMoved = (trial) => trial.overall !== null && number(levelOf(trial)) !== number(trial.overall);

/** The value of a setting as it is said, for a setting of `study.settings`. */
export function shown(setting, value) {
  if (setting.kind === "knob") {
    if (setting.scale === "clock") return clock(value);
    return `${String(significant(value)).replace("-", "−")}${setting.unit ? NBSP + setting.unit : ""}`;
  }
  if (Array.isArray(value)) return value.join(", ");
  if (value !== null && typeof value === "object") {
    return `${value.radial_mm} mm out, ${value.distance_mm} mm off, ${value.angle_deg}°`;
  }
  return String(value);
}

export function capital(text) {
  return text ? text[0].toUpperCase() + text.slice(1) : "";
}

export function alike(one, other) {
  return JSON.stringify(ordered(one)) === JSON.stringify(ordered(other));
}

function ordered(value) {
  if (value === null || typeof value !== "object" || Array.isArray(value)) return value ?? null;
  return Object.fromEntries(Object.keys(value).sort().map((name) => [name, value[name]]));
}
