/** Which proposal is asked about now. */

import type { ProposalView } from '../../client/types.gen';
import type { State } from '../../core/store';
import { proposalKey, refused } from './actions';

/** The proposals as the server sent them, kept beside the room: see `Slip.svelte`. */
export function proposalsOf(state: State): readonly ProposalView[] {
  return (state.view.own['pattern']?.['proposals'] as readonly ProposalView[] | undefined) ?? NONE;
}
const NONE: readonly ProposalView[] = [];

function later(state: State): readonly string[] {
  return (state.view.own['pattern']?.['later'] as readonly string[] | undefined) ?? NO_KEYS;
}
const NO_KEYS: readonly string[] = [];

/** Proposals that can still be asked about: not refused; those put off come last. */
export function open(state: State): ProposalView[] {
  const garment = state.doc.garment;
  if (!garment) return [];
  const no = refused(garment), put = later(state);
  const left = proposalsOf(state).filter((one) => !no.includes(proposalKey(one)));
  return [...left.filter((one) => !put.includes(proposalKey(one))), ...left.filter((one) => put.includes(proposalKey(one)))];
}

/** The question that is shown: only when the maker is at it, and all have not been put off. */
export function questionNow(state: State): ProposalView | null {
  if (state.view.own['pattern']?.['asking'] !== true) return null;
  return open(state)[0] ?? null;
}

/** How sure a proposal is, in words. */
export function sureness(confidence: number): 'sure' | 'likely' | 'perhaps' {
  return confidence >= 0.85 ? 'sure' : confidence >= 0.6 ? 'likely' : 'perhaps';
}
