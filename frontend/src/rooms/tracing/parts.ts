/** The tools and commands of this room. */

import type { Command } from '../../core/commands/command';
import type { Eke } from '../../core/eke';
import type { Point } from '../../core/geometry-types';
import { defineTool, type Tool } from '../../core/tools/machine';
import { putCornersOf, trace } from '../photograph/saying';
import { strokeCommand, strokeTool } from '../photograph/strokes';
import { outlineAt, photographCommands, photographHand, shownPhotograph, touchTool } from '../photograph/tools';
import { changes, cornerChosen, cornersInHand, isFlat, outlineInHand, stepFlat, type CornerDrag } from './flat';
import { formOf, withForm } from './forms';

const onPhotograph = photographHand('tracing', 'tracing.hand', (photo, at) => outlineAt(photo.found?.pieces ?? [], photo, at));

/** The hand: on the photograph, or on the paper as it lies flat. */
const hand = defineTool<{ flat: boolean; own: unknown }>({
  id: 'tracing.hand', room: 'tracing', words: 'tracing.hand', resting: true, initial: { flat: false, own: null },
  cursor: ({ own }) => (own === null ? 'default' : 'none'),
  step(held, event, context) {
    const ends = event.kind === 'cancel' || event.kind === 'blur';
    const flat = held.own !== null && (event.kind !== 'press' || ends) ? held.flat : isFlat(context.state);
    const step = flat ? stepFlat(held.own as CornerDrag | null, event, context) : onPhotograph.step(held.own, event, context);
    return { ...step, state: { flat, own: step.state } };
  },
});

const addCorner = defineTool<null>({
  id: 'tracing.add-corner', room: 'tracing', words: 'tracing.add-corner', key: 'c', cursor: 'copy', initial: null,
  step(_state, event, { state }) {
    if (event.kind === 'release' && isFlat(state)) {
      return { state: null, effects: [{ do: 'command', id: 'tracing.add-corner-at', with: event.at }, { do: 'tool', id: null }] };
    }
    return { state: null };
  },
});

export const tools: readonly Tool[] = [
  hand,
  touchTool('tracing', '+', 'tracing.touch-is', 'i'),
  touchTool('tracing', '-', 'tracing.touch-not', 'o'),
  strokeTool('tracing', 'draw', 'tracing.draw', 'd'),
  strokeTool('tracing', 'rub', 'tracing.rub', 'r'),
  addCorner,
];

function putCorners(eke: Eke, corners: Point[] | null): void {
  const { state } = eke;
  const photo = shownPhotograph(state, 'tracing'), piece = outlineInHand(state);
  if (!photo || !piece || corners === null) return;
  void putCornersOf(eke, photo.id, piece.which, corners);
  // which edge is which has to be asked anew
  if (Object.keys(formOf(state, photo.id, piece.which).answers).length > 0) eke.setOwn('tracing', withForm(state, photo.id, piece.which, { answers: {} }));
}

const rooms = ['tracing'] as const;

export const commands: readonly Command[] = [
  ...photographCommands('tracing'),
  strokeCommand('tracing'),
  {
    id: 'tracing.trace-all', words: 'tracing.do.trace-all', keys: ['shift+t'], rooms, available: (s) => (s.doc.photographs ?? []).some((photo) => photo.state === 'new'),
    run: async (eke) => {
      for (const photo of eke.state.doc.photographs ?? []) if (photo.state === 'new') await trace(eke, photo.id);
    },
  },
  {
    id: 'tracing.corners', words: 'tracing.do.corners', rooms, available: (s) => outlineInHand(s) !== null,
    run: (eke, corners) => putCorners(eke, corners as Point[]),
  },
  {
    id: 'tracing.add-corner-at', words: 'tracing.do.add-corner', rooms, available: (s) => outlineInHand(s) !== null,
    run: (eke, at) => putCorners(eke, changes.added(eke.state, at as Point)),
  },
  {
    id: 'tracing.corner-after', words: 'tracing.do.corner-after', rooms, available: (s) => cornerChosen(s) !== null,
    run: (eke) => putCorners(eke, changes.after(eke.state)),
  },
  {
    id: 'tracing.drop-corner', words: 'tracing.do.drop-corner', rooms, available: (s) => cornerChosen(s) !== null,
    run: (eke) => {
      const index = cornerChosen(eke.state) ?? 0;
      putCorners(eke, changes.dropped(eke.state));
      // the one after it is in hand then, so that the keyboard stays where it is
      const piece = outlineInHand(eke.state), left = cornersInHand(eke.state).length;
      eke.select(piece ? { outline: [piece.which], ...(left > 0 ? { corner: [String(Math.min(index, left - 1))] } : {}) } : {});
    },
  },
  {
    id: 'tracing.flat', words: 'tracing.do.flat', keys: ['f'], rooms, available: (s) => shownPhotograph(s, 'tracing')?.found != null,
    run: (eke) => eke.setOwn('tracing', { flat: isFlat(eke.state) ? 0 : 1 }),
  },
];
