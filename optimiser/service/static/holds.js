/** Settings that this device keeps as they are in further proposals. */

const keyOf = (study) => `optimiser.held.${study}`;

export function heldOf(study) {
  try {
    return JSON.parse(localStorage.getItem(keyOf(study)) ?? "{}");
  } catch {
    return {};
  }
}

function write(study, held) {
  try {
    localStorage.setItem(keyOf(study), JSON.stringify(held));
  } catch {
    /* it holds for no longer than this proposal */
  }
}

export function hold(study, setting, value) {
  write(study, { ...heldOf(study), [setting]: value });
}

export function letGo(study, setting) {
  const held = heldOf(study);
  delete held[setting];
  write(study, held);
}
