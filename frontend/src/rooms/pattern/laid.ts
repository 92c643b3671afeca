/** What is laid on a piece and drawn over it: another tracing of it, or its own other half over the middle line. */

import type { ComparedView, EdgeGapView, HalvesView, MiddleView } from '../../client/types.gen';

export interface Laid {
  piece: string;
  edges: readonly EdgeGapView[];
  middle: Pick<MiddleView, 'start' | 'end'> | null;
}

export function laidOf(compared: ComparedView | null, halves: HalvesView | null): Laid | null {
  if (halves) return { piece: halves.piece, edges: halves.edges, middle: halves.middle };
  return compared ? { piece: compared.first, edges: compared.edges, middle: null } : null;
}
