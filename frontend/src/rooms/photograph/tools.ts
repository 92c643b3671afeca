/**
 * The hand on a photograph: drags corners, marks, touches and strokes with a draft, and says the new place once on release.
 * Two more tools touch what is wanted and what is not. One set for each room that shows photographs.
 */

import type { DoneView, PhotographView } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';
import type { Point } from '../../core/geometry-types';
import { contains } from '../../core/geometry/polygon';
import type { Room } from '../../core/rooms';
import type { State } from '../../core/store';
import { chosen } from '../../core/store';
import { defineTool, type Effect, type Tool } from '../../core/tools/machine';
import { handlesOf, movedTo, without, type Px } from './handles';
import { inPicture, onPlane, ringOnPlane } from './plane';
import { photographById, sayOf, trace } from './saying';
import { withTouch } from './touches';

/** The draft of a handle under way. */
export interface HandleDraft {
  id: string;
  at: Px;
}
export const HANDLE_DRAFT = 'photograph-handle';

/** The photograph that is looked at in a room; null: none. */
export function shownPhotograph(state: State, room: Room): PhotographView | null {
  const id = state.view.own[room]?.['photo'];
  return photographById(state, typeof id === 'string' ? id : null);
}

/** A photograph with the unfinished gesture carried out, for drawing. */
export function drafted(photo: PhotographView, state: State): PhotographView {
  if (state.draft?.kind !== HANDLE_DRAFT) return photo;
  const { id, at } = state.draft.value as HandleDraft;
  return { ...photo, ...movedTo(photo, id, at) } as PhotographView;
}

interface Dragging {
  id: string;
  /** From the pointer to the middle of the handle, so that it does not jump. */
  off: Point;
  moved: boolean;
}

const ARROWS: Record<string, readonly [number, number]> = { arrowleft: [-1, 0], arrowright: [1, 0], arrowup: [0, -1], arrowdown: [0, 1] };

export function photographHand(room: Room, words: string, choose: (photo: PhotographView, at: Point, tolerance: number) => string | null): Tool {
  const place = (drag: Dragging, at: Point, photo: PhotographView): Px => inPicture([at[0] + drag.off[0], at[1] + drag.off[1]], photo);
  return defineTool<Dragging | null>({
    id: `${room}.hand`, room, words, resting: true, initial: null,
    cursor: (drag) => (drag ? 'none' : 'default'),
    step(drag, event, { state, tolerance_mm }) {
      const photo = shownPhotograph(state, room);
      if (!photo) return { state: null };
      if (event.kind === 'press') {
        if (event.on?.kind === 'handle') {
          const handle = handlesOf(photo).find((one) => one.id === event.on?.id);
          if (!handle) return { state: null };
          const at = onPlane(handle.at, photo);
          return {
            state: { id: handle.id, off: [at[0] - event.at[0], at[1] - event.at[1]], moved: false },
            effects: [{ do: 'select', selection: { ...keep(state), handle: [handle.id] } }, { do: 'capture', on: true }],
          };
        }
        const which = choose(photo, event.at, tolerance_mm);
        return { state: null, effects: [{ do: 'select', selection: which === null ? {} : { outline: [which] } }] };
      }
      if (event.kind === 'move' && drag) {
        return {
          state: { ...drag, moved: true },
          effects: [{ do: 'draft', draft: { kind: HANDLE_DRAFT, value: { id: drag.id, at: place(drag, event.at, photo) } satisfies HandleDraft } }],
        };
      }
      if (event.kind === 'release' && drag) {
        const effects: Effect[] = [{ do: 'capture', on: false }];
        if (drag.moved) effects.push({ do: 'command', id: `${room}.move-handle`, with: { id: drag.id, at: place(drag, event.at, photo) } }, { do: 'draft', draft: null });
        return { state: null, effects };
      }
      if (event.kind === 'key' && !drag) {
        const id = chosen(state, 'handle')[0];
        const handle = handlesOf(photo).find((one) => one.id === id);
        const way = ARROWS[event.key];
        if (handle && way && !event.keys.ctrl && !event.keys.alt) {
          const step = event.keys.shift ? 10 : 1;
          const at = inPicture(onPlane([handle.at[0] + way[0] * step, handle.at[1] + way[1] * step], photo), photo);
          return { state: null, taken: true, effects: [{ do: 'command', id: `${room}.move-handle`, with: { id: handle.id, at } }] };
        }
        if ((handle?.kind === 'touch' || handle?.kind === 'stroke') && (event.key === 'delete' || event.key === 'backspace')) {
          return { state: null, taken: true, effects: [{ do: 'command', id: `${room}.drop-touch`, with: handle.id }] };
        }
        return { state: null };
      }
      if (event.kind === 'cancel' || event.kind === 'blur') {
        return { state: null, effects: drag ? [{ do: 'draft', draft: null }, { do: 'capture', on: false }] : [] };
      }
      return { state: drag };
    },
  });
}

/** The chosen outline, which stays chosen while a handle is. */
export function keep(state: State): Record<string, readonly string[]> {
  const outline = chosen(state, 'outline');
  return outline.length > 0 ? { outline } : {};
}

/** A click says "this is it" or "this is not"; on a touch that is there already, it takes it away. */
export function touchTool(room: Room, side: '+' | '-', words: string, key: string): Tool {
  return defineTool<Point | null>({
    id: `${room}.touch${side}`, room, words, key, cursor: 'crosshair', initial: null,
    step(down, event, { state, tolerance_mm }) {
      const photo = shownPhotograph(state, room);
      // a place on the paper laid flat is no place on the photograph
      if (!photo || Number(state.view.own[room]?.['flat'] ?? 0) > 0) return { state: null };
      if (event.kind === 'press') {
        if (event.on?.kind === 'handle' && event.on.id.startsWith('touch:')) {
          return { state: null, effects: [{ do: 'command', id: `${room}.drop-touch`, with: event.on.id }] };
        }
        return { state: event.at };
      }
      if (event.kind === 'release' && down) {
        const still = Math.hypot(event.at[0] - down[0], event.at[1] - down[1]) <= tolerance_mm;
        return { state: null, effects: still ? [{ do: 'command', id: `${room}.touch`, with: { at: inPicture(event.at, photo), side } }] : [] };
      }
      if (event.kind === 'key' && event.key === 'enter') {
        // by keyboard: in the middle of what is seen, and then moved by the arrow keys
        const seen = state.view.cameras[`photo:${photo.id}`];
        const at = inPicture(seen ? [seen.x, seen.y] : [photo.width_px / 2, photo.height_px / 2], photo);
        return {
          state: null, taken: true,
          effects: [
            { do: 'command', id: `${room}.touch`, with: { at, side } },
            { do: 'tool', id: null },
            { do: 'select', selection: { ...keep(state), handle: [`touch:${photo.touches.length}`] } },
          ],
        };
      }
      if (event.kind === 'cancel' || event.kind === 'blur') return { state: null };
      return { state: down };
    },
  });
}

/** The photograph that was taken off the table last. */
export interface Aside {
  id: string;
  name: string;
  part: 'photographs' | 'shelfPhotographs';
}
export function asideIn(state: State, room: Room): Aside | null {
  return (state.view.own[room]?.['aside'] as Aside | null | undefined) ?? null;
}
function partOf(photo: PhotographView): Aside['part'] {
  return photo.subject === 'shelf' ? 'shelfPhotographs' : 'photographs';
}

/** What the tools and buttons of a room with photographs can do. */
export function photographCommands(room: Room): Command[] {
  const rooms = [room];
  const here = (state: State) => shownPhotograph(state, room);
  const ready = (state: State) => here(state) !== null && here(state)?.state !== 'tracing';
  return [
    {
      id: `${room}.move-handle`, words: `${room}.do.move-handle`, rooms, available: (s) => here(s) !== null,
      run: (eke, said) => {
        const photo = here(eke.state);
        const { id, at } = said as HandleDraft;
        return photo ? sayOf(eke, photo.id, movedTo(photo, id, at)) : undefined;
      },
    },
    {
      id: `${room}.drop-touch`, words: `${room}.do.drop-touch`, rooms, available: (s) => here(s) !== null,
      run: (eke, id) => {
        const photo = here(eke.state);
        if (!photo) return;
        const { handle: _gone, ...rest } = eke.state.view.selection;
        eke.select(rest);
        return sayOf(eke, photo.id, without(photo, String(id)));
      },
    },
    {
      id: `${room}.touch`, words: `${room}.do.touch`, rooms, available: (s) => here(s) !== null,
      run: (eke, said) => {
        const photo = here(eke.state);
        const { at, side } = said as { at: Px; side: '+' | '-' };
        return photo ? sayOf(eke, photo.id, { touches: withTouch(photo, { x_px: at[0], y_px: at[1], side }) }) : undefined;
      },
    },
    {
      id: `${room}.trace`, words: `${room}.do.trace`, keys: ['t'], rooms, available: ready,
      run: (eke) => {
        const photo = here(eke.state);
        if (!photo) return;
        eke.take(null); // what was touched is on its way: the next press looks and chooses
        eke.select(keep(eke.state)); // and Delete takes nothing of it away
        return trace(eke, photo.id);
      },
    },
    {
      id: `${room}.put-aside`, words: 'photograph.do.put-aside', rooms, available: (s) => here(s) !== null,
      run: async (eke) => {
        const photo = here(eke.state);
        if (!photo) return;
        const part = partOf(photo);
        try {
          const done = await eke.api.del<DoneView>(`/api/photographs/${photo.id}`);
          eke.setOwn(room, { photo: null, aside: { id: photo.id, name: photo.name, part } satisfies Aside });
          eke.select({});
          await eke.load(part);
          eke.say(done.sentence);
        } catch (trouble) {
          eke.trouble(trouble);
        }
      },
    },
    {
      id: `${room}.bring-back`, words: 'photograph.do.bring-back', rooms, available: (s) => asideIn(s, room) !== null,
      run: async (eke) => {
        const aside = asideIn(eke.state, room);
        if (!aside) return;
        try {
          const done = await eke.api.post<DoneView>(`/api/photographs/${aside.id}/bring-back`);
          await eke.load(aside.part);
          eke.setOwn(room, { aside: null, ...(photographById(eke.state, aside.id) ? { photo: aside.id } : {}) });
          eke.say(done.sentence);
        } catch (trouble) {
          eke.trouble(trouble);
        }
      },
    },
  ];
}

/** The name of the outline under a place on the photograph: the smallest that holds it. */
export function outlineAt(rows: readonly { which: string; outline_px: readonly (readonly number[])[] }[], photo: PhotographView, at: Point): string | null {
  const holding = rows.filter((row) => contains(ringOnPlane(row.outline_px, photo), at));
  holding.sort((a, b) => size(a.outline_px) - size(b.outline_px));
  return holding[0]?.which ?? null;
}

function size(ring: readonly (readonly number[])[]): number {
  let sum = 0;
  ring.forEach((p, i) => {
    const q = ring[(i + 1) % ring.length] ?? p;
    sum += (p[0] ?? 0) * (q[1] ?? 0) - (q[0] ?? 0) * (p[1] ?? 0);
  });
  return Math.abs(sum);
}
