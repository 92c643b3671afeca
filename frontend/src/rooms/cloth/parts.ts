/** The tools and commands of this room. */

import type { ClothView, DoneView } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';
import type { Eke } from '../../core/eke';
import type { Point } from '../../core/geometry-types';
import { t } from '../../core/language';
import { chosen, type State } from '../../core/store';
import { defineTool, type Effect, type Step, type Tool, type ToolContext, type ToolEvent } from '../../core/tools/machine';
import { outlineAt, photographCommands, photographHand, touchTool } from '../photograph/tools';
import { erased, painted } from './contours';
import { gripDropped, gripMoved, grips, pointAfter, sound } from './edge';
import { directions, fallen, pointed } from './grain';
import { brushOf, middleOn, moreGrips, openCloth, seenOn, sightOf } from './looking';

// ---- drafts

export const EDGE_DRAFT = 'cloth-edge';
export interface EdgeDraft {
  grip: number;
  ring: Point[];
}
export const GRAIN_DRAFT = 'cloth-grain';
export interface GrainDraft {
  deg: number;
  to: 'threads' | 'edge' | null;
}
export const STROKE_DRAFT = 'cloth-stroke';
export interface StrokeDraft {
  points: Point[];
  width_mm: number;
  erasing: boolean;
}

// ---- the hand

type Drag =
  | { what: 'edge'; grip: number; held: number[]; ring: Point[]; moved: boolean }
  | { what: 'grain'; end: 0 | 1; moved: boolean };

const onPhotograph = photographHand('cloth', 'cloth.hand', (photo, at) => outlineAt(photo.found?.cloths ?? [], photo, at));

const hand = defineTool<{ what: string; own: unknown }>({
  id: 'cloth.hand', room: 'cloth', words: 'cloth.hand', resting: true, initial: { what: 'shelf', own: null },
  cursor: ({ own }) => (own === null ? 'default' : 'grabbing'),
  step(held, event, context) {
    const what = held.own === null || event.kind === 'press' ? sightOf(context.state) : held.what;
    if (what === 'photograph') {
      const step = onPhotograph.step(held.own, event, context);
      return { ...step, state: { what, own: step.state } };
    }
    if (what === 'cloth') {
      const step = stepCloth(held.own as Drag | null, event, context);
      return { ...step, state: { what, own: step.state } };
    }
    if (event.kind === 'press' && event.on?.kind === 'cloth') {
      return { state: { what, own: null }, effects: [{ do: 'command', id: 'cloth.open', with: event.on.id }] };
    }
    return { state: { what, own: null } };
  },
});

/** The direction that an arrow's end dragged to a place means: the tail's is the opposite. */
function grainAt(state: State, cloth: ClothView, end: 0 | 1, at: Point): GrainDraft {
  const deg = pointed(middleOn(cloth.outline), at) + (end === 0 ? 180 : 0);
  return fallen(deg, directions(cloth.outline, seenOn(state.doc.shelfPhotographs, cloth.id)?.threads_deg ?? null));
}

const KEYS: Record<string, Point> = { arrowleft: [-1, 0], arrowright: [1, 0], arrowup: [0, 1], arrowdown: [0, -1] };

function stepCloth(drag: Drag | null, event: ToolEvent, { state, mm_per_px }: ToolContext): Step<Drag | null> {
  const cloth = openCloth(state);
  if (!cloth) return { state: null };
  const ring = cloth.outline as Point[];
  if (event.kind === 'cancel' || event.kind === 'blur') {
    return { state: null, effects: drag ? [{ do: 'draft', draft: null }, { do: 'capture', on: false }] : [] };
  }
  if (event.kind === 'press') {
    const on = event.on;
    if (on?.kind === 'grip') {
      const grip = Number(on.id);
      return {
        state: { what: 'edge', grip, held: grips(ring, mm_per_px, moreGrips(state)), ring, moved: false },
        effects: [{ do: 'select', selection: { grip: [on.id] } }, { do: 'capture', on: true }],
      };
    }
    if (on?.kind === 'grain') {
      return { state: { what: 'grain', end: on.id === '0' ? 0 : 1, moved: false }, effects: [{ do: 'select', selection: { grain: [on.id] } }, { do: 'capture', on: true }] };
    }
    if (on?.kind === 'flaw' || on?.kind === 'hole') return { state: null, effects: [{ do: 'select', selection: { [on.kind]: [on.id] } }] };
    return { state: null, effects: [{ do: 'select', selection: {} }] };
  }
  if (event.kind === 'move' && drag) {
    const draft = drag.what === 'edge'
      ? { kind: EDGE_DRAFT, value: { grip: drag.grip, ring: gripMoved(drag.ring, drag.held, drag.grip, event.at) } satisfies EdgeDraft }
      : { kind: GRAIN_DRAFT, value: grainAt(state, cloth, drag.end, event.at) };
    return { state: { ...drag, moved: true }, effects: [{ do: 'draft', draft }] };
  }
  if (event.kind === 'release' && drag) {
    const effects: Effect[] = [{ do: 'capture', on: false }];
    if (drag.moved && drag.what === 'edge') effects.push({ do: 'command', id: 'cloth.outline', with: gripMoved(drag.ring, drag.held, drag.grip, event.at) });
    if (drag.moved && drag.what === 'grain') effects.push({ do: 'command', id: 'cloth.grain', with: grainAt(state, cloth, drag.end, event.at).deg });
    return { state: null, effects };
  }
  if (event.kind === 'key' && !drag && !event.keys.ctrl && !event.keys.alt) {
    const way = KEYS[event.key];
    const grip = chosen(state, 'grip')[0];
    if (grip !== undefined && way) {
      const held = grips(ring, mm_per_px, moreGrips(state)), at = ring[Number(grip)];
      const by = event.keys.shift ? 10 : 1;
      if (at) return { state: null, taken: true, effects: [{ do: 'command', id: 'cloth.outline', with: gripMoved(ring, held, Number(grip), [at[0] + way[0] * by, at[1] + way[1] * by]) }] };
    }
    if (chosen(state, 'grain')[0] !== undefined && way) {
      const turn = (way[0] > 0 || way[1] < 0 ? -1 : 1) * (event.keys.shift ? 15 : 1);
      return { state: null, taken: true, effects: [{ do: 'command', id: 'cloth.grain', with: ((cloth.grain_deg ?? 90) + turn + 360) % 360 }] };
    }
    if (event.key === 'delete' || event.key === 'backspace') {
      if (grip !== undefined) return { state: null, taken: true, effects: [{ do: 'command', id: 'cloth.drop-point', with: mm_per_px }] };
      if (chosen(state, 'flaw').length + chosen(state, 'hole').length > 0) return { state: null, taken: true, effects: [{ do: 'command', id: 'cloth.drop-flaw' }] };
    }
  }
  return { state: drag };
}

// ---- painting

interface Stroke {
  points: Point[];
  width_mm: number;
}

/** Nearest two points of a stroke, as a share of its width: nearer ones add nothing. */
const POINTS_SHARE = 0.12;

function painting(id: string, words: string, key: string, erasing: boolean): Tool {
  return defineTool<Point[] | null>({
    id, room: 'cloth', words, key, grabsEmpty: true, cursor: 'crosshair', initial: null,
    step(points, event, { state }) {
      if (sightOf(state) !== 'cloth') return { state: null };
      const { width_mm } = brushOf(state);
      const draft = (value: Point[]): Effect => ({ do: 'draft', draft: { kind: STROKE_DRAFT, value: { points: value, width_mm, erasing } satisfies StrokeDraft } });
      if (event.kind === 'press') return { state: [event.at], effects: [{ do: 'capture', on: true }, draft([event.at])] };
      if (event.kind === 'move' && points) {
        const last = points.at(-1) ?? event.at;
        if (Math.hypot(event.at[0] - last[0], event.at[1] - last[1]) < width_mm * POINTS_SHARE) return { state: points };
        const more = [...points, event.at];
        return { state: more, effects: [draft(more)] };
      }
      if (event.kind === 'release' && points) {
        return { state: null, effects: [{ do: 'capture', on: false }, { do: 'command', id: erasing ? 'cloth.erase' : 'cloth.paint', with: { points, width_mm } }] };
      }
      if (event.kind === 'key' && event.key === 'enter' && !points) {
        // by keyboard the brush stays in the middle of what is seen, and the arrow keys move the cloth under it
        const seen = state.view.cameras[`cloth:${openCloth(state)?.id}`];
        const dab: Stroke | null = seen ? { points: [[seen.x, seen.y]], width_mm } : null;
        return { state: null, taken: true, effects: dab ? [{ do: 'command', id: erasing ? 'cloth.erase' : 'cloth.paint', with: dab }] : [] };
      }
      if (event.kind === 'cancel' || event.kind === 'blur') {
        return { state: null, effects: points ? [{ do: 'draft', draft: null }, { do: 'capture', on: false }] : [] };
      }
      return { state: points };
    },
  });
}

export const tools: readonly Tool[] = [
  hand,
  painting('cloth.brush', 'cloth.brush', 'b', false),
  painting('cloth.eraser', 'cloth.eraser', 'e', true),
  touchTool('cloth', '+', 'cloth.touch-is', 'i'),
  touchTool('cloth', '-', 'cloth.touch-not', 'o'),
];

// ---- commands

/** Changes of a cloth go one after another, each to the cloth as the one before left it. */
const QUEUES = new WeakMap<Eke, Promise<unknown>>();
function queued<T>(eke: Eke, work: () => Promise<T>): Promise<T> {
  const done = (QUEUES.get(eke) ?? Promise.resolve()).then(work, work);
  QUEUES.set(eke, done.catch(() => undefined));
  return done;
}

/** Say words of a cloth anew; one change, one sentence, taken back by one step. */
export function describe(eke: Eke, id: string, said: Record<string, unknown>, price: { price?: string; currency?: string } = {}): Promise<DoneView | null> {
  return queued(eke, () => eke.did('workroom', () => eke.api.patch<DoneView>(`/api/cloths/${id}`, { said, ...price })));
}

/** The same for a change worked out from the cloth as it is when its turn comes. */
function reshape(eke: Eke, work: (cloth: ClothView) => Record<string, unknown> | null): Promise<DoneView | null> {
  return queued(eke, async () => {
    const cloth = openCloth(eke.state);
    const said = cloth && work(cloth);
    try {
      if (!cloth || !said) return null;
      const expected = eke.state.doc.shelf?.revision ?? null;
      return await eke.did('workroom', () => eke.api.patch<DoneView>(`/api/cloths/${cloth.id}`, { said, expected }));
    } finally {
      const { draft } = eke.state;
      if (draft?.kind === EDGE_DRAFT || draft?.kind === GRAIN_DRAFT || draft?.kind === STROKE_DRAFT) eke.setDraft(null);
    }
  });
}

const rooms = ['cloth'] as const;
const isCloth = (state: State) => sightOf(state) === 'cloth';

export const commands: readonly Command[] = [
  ...photographCommands('cloth'),
  {
    id: 'cloth.open', words: 'cloth.do.open', rooms,
    run: (eke, id) => {
      eke.setOwn('cloth', { open: id, typed: false });
      eke.select({});
    },
  },
  {
    id: 'cloth.shelf', words: 'cloth.do.shelf', keys: ['alt+arrowup'], rooms, available: (s) => sightOf(s) !== 'shelf',
    run: (eke) => {
      eke.setOwn('cloth', { open: null, photo: null, typed: false });
      eke.select({});
      eke.take(null);
    },
  },
  {
    id: 'cloth.type', words: 'cloth.do.type', rooms,
    run: (eke) => {
      eke.setOwn('cloth', { open: null, photo: null, typed: true });
      eke.select({});
    },
  },
  {
    id: 'cloth.outline', words: 'cloth.do.outline', rooms, available: isCloth,
    run: (eke, ring) => {
      if (!sound(ring as Point[])) {
        eke.setDraft(null);
        eke.say(t('cloth.crossing'), { tone: 'trouble' });
        return;
      }
      return reshape(eke, () => ({ outline: ring }));
    },
  },
  {
    id: 'cloth.drop-point', words: 'cloth.do.drop-point', rooms, available: (s) => isCloth(s) && chosen(s, 'grip').length > 0,
    run: (eke, mm_per_px) => {
      const grip = Number(chosen(eke.state, 'grip')[0]);
      eke.select({});
      return reshape(eke, (cloth) => {
        const ring = gripDropped(cloth.outline, grips(cloth.outline, Number(mm_per_px ?? 1), moreGrips(eke.state)), grip);
        return sound(ring) && ring.length < cloth.outline.length ? { outline: ring } : null;
      });
    },
  },
  {
    id: 'cloth.add-point', words: 'cloth.do.add-point', rooms, available: (s) => isCloth(s) && chosen(s, 'grip').length > 0,
    run: (eke, mm_per_px) => {
      const grip = Number(chosen(eke.state, 'grip')[0]);
      const cloth = openCloth(eke.state);
      if (!cloth) return;
      const made = pointAfter(cloth.outline, grips(cloth.outline, Number(mm_per_px ?? 1), moreGrips(eke.state)), grip);
      eke.setOwn('cloth', { more: [made.grip] });
      eke.select({ grip: [String(made.grip)] });
      return made.ring.length === cloth.outline.length ? undefined : reshape(eke, () => ({ outline: made.ring }));
    },
  },
  { id: 'cloth.grain', words: 'cloth.do.grain', rooms, available: isCloth, run: (eke, deg) => reshape(eke, () => ({ grain_deg: deg })) },
  {
    id: 'cloth.paint', words: 'cloth.do.paint', rooms, available: isCloth,
    run: (eke, said) => {
      const { points, width_mm } = said as Stroke;
      const polygon = painted(points, width_mm);
      const { kind, quality } = brushOf(eke.state);
      if (!polygon || kind === 'hole') return reshape(eke, (cloth) => (polygon ? { holes: [...cloth.holes, polygon] } : null));
      return queued(eke, async () => {
        const cloth = openCloth(eke.state);
        try {
          return cloth && (await eke.did('workroom', () => eke.api.post<DoneView>(`/api/cloths/${cloth.id}/flaws`, { polygon, kind, quality })));
        } finally {
          if (eke.state.draft?.kind === STROKE_DRAFT) eke.setDraft(null);
        }
      });
    },
  },
  {
    id: 'cloth.erase', words: 'cloth.do.erase', rooms, available: isCloth,
    run: (eke, said) => {
      const { points, width_mm } = said as Stroke;
      return reshape(eke, (cloth) => {
        let changed = false;
        const left = <T extends object>(ring: readonly (readonly [number, number])[], make: (part: Point[], i: number) => T, as: T): T[] => {
          const parts = erased(ring, points, width_mm);
          if (parts === null) return [as];
          changed = true;
          return parts.map(make);
        };
        const used: string[] = [];
        const flaws = cloth.flaws.flatMap((flaw) => left(flaw.polygon, (polygon, i) => {
          const id = i === 0 ? flaw.id : freeId(cloth, flaw.kind, used);
          used.push(id);
          return { ...flaw, id, polygon: polygon as [number, number][] };
        }, flaw));
        const holes = cloth.holes.flatMap((hole) => left<readonly (readonly [number, number])[]>(hole, (part) => part, hole));
        return changed ? { flaws, holes } : null;
      });
    },
  },
  {
    id: 'cloth.drop-flaw', words: 'cloth.do.drop-flaw', rooms, available: (s) => isCloth(s) && chosen(s, 'flaw').length + chosen(s, 'hole').length > 0,
    run: (eke) => {
      const flaw = chosen(eke.state, 'flaw')[0], hole = chosen(eke.state, 'hole')[0];
      eke.select({});
      if (flaw === undefined) return reshape(eke, (cloth) => ({ holes: cloth.holes.filter((_, i) => i !== Number(hole)) }));
      const cloth = openCloth(eke.state);
      return cloth ? queued(eke, () => eke.did('workroom', () => eke.api.post<DoneView>(`/api/cloths/${cloth.id}/flaws/${encodeURIComponent(flaw)}/drop`))) : undefined;
    },
  },
];

/** An id for one more flaw that no flaw of the cloth has. */
export function freeId(cloth: ClothView, kind: string, used: readonly string[] = []): string {
  const there = new Set([...cloth.flaws.map((flaw) => flaw.id), ...used]);
  let n = 1;
  while (there.has(`${kind} ${n}`)) n += 1;
  return `${kind} ${n}`;
}
