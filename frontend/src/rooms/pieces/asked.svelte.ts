/** An answer of the server that a view keeps for itself, asked again when its address or the revision changes. */

import { isTrouble } from '../../core/api';
import { useEke } from '../../core/live.svelte';

export interface Asked<T> {
  readonly value: T | null;
  readonly trouble: string | null;
}

/** Call while a component is being made; `address` may read runes, null: nothing is asked. */
export function asked<T>(address: () => string | null, revision: () => unknown): Asked<T> {
  const eke = useEke();
  let value = $state.raw<T | null>(null);
  let trouble = $state<string | null>(null);
  let of: string | null = null;
  $effect(() => {
    const path = address();
    revision();
    if (path !== of) value = null;
    of = path;
    trouble = null;
    if (path === null) return;
    const control = new AbortController();
    eke.api.get<T>(path, { signal: control.signal }).then(
      (answer) => { if (!control.signal.aborted) value = answer; },
      (what: unknown) => { if (!control.signal.aborted) trouble = isTrouble(what) ? what.sentence : null; },
    );
    return () => control.abort();
  });
  return {
    get value() { return value; },
    get trouble() { return trouble; },
  };
}
