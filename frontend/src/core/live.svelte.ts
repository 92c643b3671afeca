/** The only bridge from the store to Svelte: `live(selector)` and `useEke()`. */

import { getContext, setContext } from 'svelte';
import { createSubscriber } from 'svelte/reactivity';
import type { Eke } from './eke';
import { alike, type Selector } from './store';

const KEY = Symbol('eke');

export function provideEke(eke: Eke): Eke {
  return setContext(KEY, eke);
}

export function useEke(): Eke {
  return getContext<Eke>(KEY);
}

/**
 * A value of the store that redraws what reads it: `const garment = live((s) => s.doc.garment)` and then
 * `garment.value`. The selector may read other runes; it is asked again when the store changes.
 * Call it while a component is being made.
 */
export function live<T>(selector: Selector<T>, eke: Eke = useEke()): { readonly value: T } {
  let last: { value: T } | null = null;
  const listen = createSubscriber((update) =>
    eke.store.watch(() => {
      if (last === null || !alike(last.value, selector(eke.state))) update();
    }),
  );
  return {
    get value(): T {
      listen();
      const now = selector(eke.state);
      if (last === null || !alike(last.value, now)) last = { value: now };
      return last.value;
    },
  };
}
