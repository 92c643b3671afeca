/** What a change would do, shown before it is made: asked of the server while a remedy is under the hand. */

import { getContext, setContext } from 'svelte';
import type { PreviewView } from '../../client/types.gen';
import { isTrouble } from '../../core/api';
import type { Eke } from '../../core/eke';

const KEY = Symbol('look ahead');
/** A hand that only passes over a button asks for nothing. */
const PASSING_MS = 90;

export class LookAhead {
  /** What would be; null: nothing is looked at. */
  view = $state.raw<PreviewView | null>(null);
  /** Why it cannot be done, in the server's words. */
  why = $state<string | null>(null);
  /** What the server knows of why, such as the most that would go (`most_mm`). */
  facts = $state.raw<Readonly<Record<string, unknown>>>({});
  /** What was refused with these words. */
  refused = $state.raw<Readonly<Record<string, unknown>> | null>(null);
  #asking: AbortController | null = null;
  #timer: ReturnType<typeof setTimeout> | undefined;
  #known = new Map<string, PreviewView>();

  constructor(readonly eke: Eke) {}

  show(kind: string, params: Record<string, unknown>, wait_ms: number = PASSING_MS): void {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => void this.#ask(kind, params), wait_ms);
  }

  async #ask(kind: string, params: Record<string, unknown>): Promise<void> {
    const garment = this.eke.state.doc.garment;
    // while a change is on its way nothing is asked about the garment as it was
    if (!garment || this.eke.state.busy > 0) return;
    const key = `${garment.id} ${garment.revision} ${kind} ${JSON.stringify(params)}`;
    const known = this.#known.get(key);
    this.#asking?.abort();
    if (known) {
      this.why = null;
      this.view = known;
      return;
    }
    const asking = new AbortController();
    this.#asking = asking;
    try {
      const said = { kind, params, note: '', expected: garment.revision };
      const view = await this.eke.api.post<PreviewView>(`/api/garments/${garment.id}/preview`, said, { signal: asking.signal });
      if (asking.signal.aborted) return;
      if (this.#known.size > 40) this.#known.clear();
      this.#known.set(key, view);
      this.why = null;
      this.view = view;
    } catch (trouble) {
      if (asking.signal.aborted) return;
      this.view = null;
      this.why = isTrouble(trouble) ? trouble.sentence : null;
      this.facts = isTrouble(trouble) ? trouble.facts : {};
      this.refused = params;
    }
  }

  clear(): void {
    clearTimeout(this.#timer);
    this.#asking?.abort();
    this.view = null;
    this.why = null;
  }
}

export function provideLookAhead(eke: Eke): LookAhead {
  return setContext(KEY, new LookAhead(eke));
}

export function useLookAhead(): LookAhead {
  return getContext<LookAhead>(KEY);
}
