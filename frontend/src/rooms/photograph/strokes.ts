/**
 * What the maker draws on a photograph where a line is missing, and rubs out where it is none. Said as strokes, in
 * pixels of the upright picture; the picture is then traced anew with them.
 */

import type { PhotographView, Stroke } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';
import type { Point } from '../../core/geometry-types';
import { distanceToSideMm, signedAreaMm2 } from '../../core/geometry/polygon';
import type { Room } from '../../core/rooms';
import type { State } from '../../core/store';
import { chosen } from '../../core/store';
import { defineTool, type Effect, type Tool } from '../../core/tools/machine';
import { inPicture } from './plane';
import { sayOf } from './saying';
import { keep, shownPhotograph } from './tools';

/** The draft of a stroke under way: a Stroke. */
export const STROKE_DRAFT = 'photograph-stroke';
/** Places nearer to the one before than this are left out, px of the screen. */
const APART_PX = 2;
/** The way drawn is kept to so much, px of the screen. */
const OFF_PX = 0.5;
const MOST_POINTS = 200;
/** How far an arrow key moves the end of a stroke, px of the screen; ten times with shift. */
const STEP_PX = 4;
/** A pointer that moved by less than this share of what still means a thing has not moved. */
const STILL = 0.4;

/** Fewer points for the same way: none left out lies farther than `off` from it, or more where over 200 would be left. */
export function thinned(points: readonly Point[], off: number): Point[] {
  for (let tolerance = off; ; tolerance *= 2) {
    const fewer = within(points, tolerance);
    if (fewer.length <= MOST_POINTS) return fewer;
  }
}

/** D. H. Douglas, T. K. Peucker, "Algorithms for the reduction of the number of points …", 1973. */
function within(points: readonly Point[], tolerance: number): Point[] {
  const kept = new Set([0, points.length - 1]);
  const spans: [number, number][] = [[0, points.length - 1]];
  for (let span = spans.pop(); span; span = spans.pop()) {
    const [from, to] = span;
    const a = points[from], b = points[to];
    let farthest = -1, away = tolerance;
    for (let i = from + 1; a && b && i < to; i += 1) {
      const off = distanceToSideMm(points[i] ?? a, a, b);
      if (off > away) [farthest, away] = [i, off];
    }
    if (farthest < 0) continue;
    kept.add(farthest);
    spans.push([from, farthest], [farthest, to]);
  }
  return points.filter((_, i) => kept.has(i));
}

interface Stroking {
  points: Point[];
  /** Shift is held: only the first and the last place count. */
  straight: boolean;
  /** The handle that was pressed. */
  on: string | null;
  /** Begun by Enter: its end is moved by the arrow keys. */
  keyed: boolean;
}

const WAYS: Record<string, readonly [number, number]> = { arrowleft: [-1, 0], arrowright: [1, 0], arrowup: [0, 1], arrowdown: [0, -1] };

/** Press, drag and let go draws a stroke, or rubs along it; without a drag a dot is set, or a spot rubbed. */
export function strokeTool(room: Room, how: Stroke['how'], words: string, key: string): Tool {
  const none: Effect[] = [{ do: 'draft', draft: null }, { do: 'capture', on: false }];
  return defineTool<Stroking | null>({
    id: `${room}.${how}`, room, words, key, grabsEmpty: true, cursor: 'crosshair', initial: null,
    step(held, event, { state, tolerance_mm, mm_per_px }) {
      const photo = shownPhotograph(state, room);
      // neither on cloth nor on the paper laid flat
      if (!photo || photo.cloth || Number(state.view.own[room]?.['flat'] ?? 0) > 0) return { state: null };
      const strokes = photo.strokes ?? [];
      const stroke = (points: readonly Point[]): Stroke => ({ how, points_px: points.map((at) => inPicture(at, photo)) });
      const shown = (now: Stroking): Effect => ({ do: 'draft', draft: { kind: STROKE_DRAFT, value: stroke(way(now)) } });
      const said = (points: readonly Point[]): Effect[] => [
        ...none,
        { do: 'command', id: `${room}.stroke`, with: stroke(points) },
        // in hand, so that Delete takes it away again
        { do: 'select', selection: { ...keep(state), handle: [`stroke:${strokes.length}`] } },
      ];
      switch (event.kind) {
        case 'press': {
          const now: Stroking = { points: [event.at], straight: event.keys.shift, on: event.on?.kind === 'handle' ? event.on.id : null, keyed: false };
          return { state: now, effects: [{ do: 'draft', draft: null }, { do: 'capture', on: true }] };
        }
        case 'move': {
          if (!held || held.keyed) return { state: held };
          const now = longer(held, event.at, event.keys.shift, APART_PX * mm_per_px);
          return { state: now, effects: [shown(now)] };
        }
        case 'release': {
          if (!held || held.keyed) return { state: held };
          const first = held.points[0] ?? event.at;
          const now = longer(held, event.at, event.keys.shift, 0);
          if (now.points.every((at) => Math.hypot(at[0] - first[0], at[1] - first[1]) <= STILL * tolerance_mm)) {
            const same = strokes.some((one, i) => one.how === how && held.on === `stroke:${i}`);
            return { state: null, effects: same ? [...none, { do: 'command', id: `${room}.drop-touch`, with: held.on }] : said([first]) };
          }
          return { state: null, effects: said(thinned(way(now), OFF_PX * mm_per_px)) };
        }
        case 'key': {
          if (event.key === 'enter' && !held) {
            // by keyboard: from the middle of what is seen to where the arrow keys lead, and Enter again
            const seen = state.view.cameras[`photo:${photo.id}`];
            const at: Point = seen ? [seen.x, seen.y] : [photo.width_px / 2, photo.height_px / 2];
            const now: Stroking = { points: [at, at], straight: true, on: null, keyed: true };
            return { state: now, taken: true, effects: [shown(now)] };
          }
          const [first, last] = held?.points ?? [];
          if (held?.keyed && first && last) {
            const to = WAYS[event.key];
            if (to && !event.keys.ctrl && !event.keys.alt) {
              const step = STEP_PX * mm_per_px * (event.keys.shift ? 10 : 1);
              const now: Stroking = { ...held, points: [first, [last[0] + to[0] * step, last[1] + to[1] * step]] };
              return { state: now, taken: true, effects: [shown(now)] };
            }
            if (event.key === 'enter') {
              const still = first[0] === last[0] && first[1] === last[1];
              return { state: null, taken: true, effects: said(still ? [first] : [first, last]) };
            }
          }
          const handle = chosen(state, 'handle')[0];
          if (!held && handle?.startsWith('stroke:') && (event.key === 'delete' || event.key === 'backspace')) {
            return { state: null, taken: true, effects: [{ do: 'command', id: `${room}.drop-touch`, with: handle }] };
          }
          return { state: held };
        }
        case 'cancel':
        case 'blur':
          return { state: null, effects: held ? none : [] };
      }
    },
  });
}

/** The places of a stroke under way. */
function way({ points, straight }: Stroking): Point[] {
  const first = points[0], last = points.at(-1);
  return straight && first && last ? [first, last] : points;
}

/** With one more place at its end; the last one is given up for it where the two lie nearer than `apart`. */
function longer(held: Stroking, at: Point, straight: boolean, apart: number): Stroking {
  const last = held.points.at(-1), before = held.points.at(-2);
  const near = last !== undefined && before !== undefined && Math.hypot(last[0] - before[0], last[1] - before[1]) < apart;
  return { ...held, straight, points: [...(near ? held.points.slice(0, -1) : held.points), at] };
}

/** How broad a rubber is on the paper, mm, as the tracing has it. */
const RUBBER_MM = 5;

/** How broad a rubber is on the picture, px, by what was found on it with its true size; null: not known yet. */
export function rubberPx(photo: PhotographView): number | null {
  const pairs = (photo.found?.pieces ?? []).map((piece) => [area(piece.outline_px), area(piece.outline)] as const);
  const [px2, mm2] = pairs.reduce(([a, b], [c, d]) => [a + c, b + d] as const, [0, 0] as const);
  return px2 > 0 && mm2 > 0 ? RUBBER_MM * Math.sqrt(px2 / mm2) : null;
}

function area(ring: readonly (readonly number[])[]): number {
  return Math.abs(signedAreaMm2(ring.map((p): Point => [p[0] ?? 0, p[1] ?? 0])));
}

/** One more stroke is said of the photograph that is looked at. */
export function strokeCommand(room: Room): Command {
  const here = (state: State) => shownPhotograph(state, room);
  return {
    id: `${room}.stroke`, words: `${room}.do.stroke`, rooms: [room], available: (s) => here(s) !== null,
    run: (eke, said) => {
      const photo = here(eke.state);
      return photo ? sayOf(eke, photo.id, { strokes: [...(photo.strokes ?? []), said as Stroke] }) : undefined;
    },
  };
}
