/** Presses, drags and types at tools and commands without a browser, for tests. */

import { runKey } from './commands/command';
import type { Eke } from './eke';
import type { Point } from './geometry-types';
import type { Tables } from './tables';
import { ToolHand } from './tools/hand';
import type { Hit, Keys, ToolEvent } from './tools/machine';

const NO_KEYS: Keys = { shift: false, alt: false, ctrl: false };

export class Driver {
  readonly hand: ToolHand;
  captured = false;

  constructor(
    readonly eke: Eke,
    readonly tables: Tables,
    /** px per mm. */
    readonly scale = 1,
  ) {
    this.hand = new ToolHand(eke, tables, (on) => (this.captured = on));
  }

  press(at: Point, on: Hit | null = null, keys: Partial<Keys> = {}): this {
    return this.send({ kind: 'press', at, on, keys: { ...NO_KEYS, ...keys }, touch: false });
  }

  move(at: Point, on: Hit | null = null, keys: Partial<Keys> = {}): this {
    return this.send({ kind: 'move', at, on, keys: { ...NO_KEYS, ...keys }, touch: false });
  }

  release(at: Point, on: Hit | null = null, keys: Partial<Keys> = {}): this {
    return this.send({ kind: 'release', at, on, keys: { ...NO_KEYS, ...keys }, touch: false });
  }

  /** Press and release at one place. */
  click(at: Point, on: Hit | null = null, keys: Partial<Keys> = {}): this {
    return this.press(at, on, keys).release(at, on, keys);
  }

  /** Press at the first point, move over the others, release at the last. */
  drag(points: readonly Point[], on: Hit | null = null, keys: Partial<Keys> = {}): this {
    const [first, ...rest] = points;
    if (!first) return this;
    this.press(first, on, keys);
    for (const at of rest) this.move(at, null, keys);
    return this.release(points.at(-1) ?? first, null, keys);
  }

  /** A key: first for the tool in hand, then for commands and for taking tools. `driver.key('ctrl+z')`. */
  key(name: string): this {
    const parts = name === '+' ? ['+'] : name.split('+');
    const key = parts.at(-1) ?? '';
    const keys: Keys = { shift: parts.includes('shift'), alt: parts.includes('alt'), ctrl: parts.includes('ctrl') };
    if (key === 'escape') this.send({ kind: 'cancel' });
    if (this.hand.send({ kind: 'key', key, keys }, this.scale)) return this;
    runKey(this.eke, this.tables, { key, shiftKey: keys.shift, altKey: keys.alt, ctrlKey: keys.ctrl, metaKey: false });
    return this;
  }

  type(text: string): this {
    for (const letter of text) this.key(letter);
    return this;
  }

  cancel(): this {
    return this.send({ kind: 'cancel' });
  }

  blur(): this {
    return this.send({ kind: 'blur' });
  }

  /** Let all answers arrive. */
  async settle(): Promise<this> {
    do await new Promise((done) => setTimeout(done, 0));
    while (this.eke.state.busy > 0);
    return this;
  }

  private send(event: ToolEvent): this {
    this.hand.send(event, this.scale);
    return this;
  }
}

/** A `fetch` that answers from a table: `'POST /api/…'` → what to answer, or a function of what was said. */
export function answers(table: Record<string, unknown>, asked: { what: string; said: unknown }[] = []) {
  return async (address: string, how: RequestInit = {}): Promise<Response> => {
    const what = `${how.method ?? 'GET'} ${address}`;
    const said: unknown = typeof how.body === 'string' ? JSON.parse(how.body) : (how.body ?? null);
    asked.push({ what, said });
    if (!(what in table)) return json({ code: 'not-found', sentence: `nothing at ${what}`, facts: {} }, 404);
    const answer = table[what];
    const told: unknown = typeof answer === 'function' ? (answer as (said: unknown) => unknown)(said) : answer;
    return told instanceof Response ? told : json(told);
  };
}

export function json(told: unknown, status = 200): Response {
  return new Response(JSON.stringify(told), { status, headers: { 'Content-Type': 'application/json' } });
}
