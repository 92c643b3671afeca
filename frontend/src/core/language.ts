/** Words of the app by key, from one catalogue. */

import { WORDS } from '../words/en-GB';

export type Phrase = string | { one: string; other: string };
export type Words = Record<string, Phrase>;
export type Key = keyof typeof WORDS;
export type Values = Record<string, string | number>;

const PLURAL = new Intl.PluralRules('en-GB');

/**
 * Say a phrase. `{name}` is replaced by a value; a phrase with `one` and `other` chooses by the value `n`.
 *
 * `t('welcome.pieces', { n: 3 })` → "3 pieces".
 */
export function t(key: Key, values: Values = {}): string {
  return fill(WORDS[key], values);
}

export function fill(phrase: Phrase, values: Values): string {
  const text = typeof phrase === 'string' ? phrase : phrase[PLURAL.select(Number(values['n'] ?? 0)) === 'one' ? 'one' : 'other'];
  return text.replace(/\{(\w+)\}/g, (whole, name: string) => String(values[name] ?? whole));
}

/** Say a phrase whose key comes from a table of tools or commands; none: the catalogue has no such key. */
export function maybe(key: string, values: Values = {}): string | null {
  return key in WORDS ? t(key as Key, values) : null;
}
