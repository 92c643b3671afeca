/** The jar of buttons: where each button lies. The budget is so many buttons; what is spent lies beside the jar. */

export const BUTTONS = 40;
export const RADIUS = 8;
/** More than these beyond the budget are not drawn. */
export const MOST_OVER = 40;

export interface Button {
  x: number;
  y: number;
  /** 0…3: which of the button drawings. */
  look: number;
  turn_deg: number;
}

export interface Jar {
  inside: Button[];
  beside: Button[];
  /** Beyond the budget. */
  over: Button[];
}

const STEP = 2 * RADIUS + 1.5;
const RISE = STEP * 0.88;
/** Inside of the glass, and the table beside it. */
export const GLASS = { left: 26, right: 154, floor: 214 };
export const HEAP = { left: 172, right: 352, floor: 220 };

/** Buttons in the jar, beside it, and beyond it, for what was spent over the budget; no budget: none inside. */
export function fillJar(share: number | null): Jar {
  const spent = share === null ? 0 : Math.round(BUTTONS * Math.max(share, 0));
  const beside = Math.min(spent, BUTTONS);
  const over = Math.min(spent - beside, MOST_OVER);
  const heap = heaped(beside + over);
  return {
    inside: share === null ? [] : stacked(BUTTONS - beside),
    beside: heap.slice(0, beside),
    over: heap.slice(beside),
  };
}

/** Rows in the jar, each lying in the hollows of the one below. */
function stacked(count: number): Button[] {
  const wide = Math.floor((GLASS.right - GLASS.left) / STEP);
  const middle = (GLASS.left + GLASS.right) / 2;
  const found: Button[] = [];
  for (let row = 0; found.length < count; row++) {
    const here = Math.min(row % 2 === 0 ? wide : wide - 1, count - found.length);
    for (let i = 0; i < here; i++) {
      found.push(button(found.length, middle + (i - (here - 1) / 2) * STEP, GLASS.floor - RADIUS - row * RISE));
    }
  }
  return found;
}

/** A heap, each row shorter by one than the one below. */
function heaped(count: number): Button[] {
  const wide = Math.floor((HEAP.right - HEAP.left) / STEP);
  const found: Button[] = [];
  for (let row = 0; found.length < count; row++) {
    const room = Math.max(wide - row, 1);
    const here = Math.min(room, count - found.length);
    const start = HEAP.left + RADIUS + (row * STEP) / 2;
    for (let i = 0; i < here; i++) found.push(button(found.length + 7, start + i * STEP, HEAP.floor - RADIUS - row * RISE));
  }
  return found;
}

/** Buttons never lie quite straight; the same button always lies the same way. */
function button(n: number, x: number, y: number): Button {
  const chance = Math.abs(Math.sin(n * 12.9898) * 43758.5453) % 1;
  return { x: x + (chance - 0.5) * 1.6, y: y + (((chance * 7) % 1) - 0.5) * 1.2, look: Math.floor(chance * 4), turn_deg: chance * 360 };
}
