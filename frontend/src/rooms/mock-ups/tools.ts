/** The hand of this room: choose an edge, move the knots of a seam that is taken in, the point and mouth of a dart. */

import type { GarmentView } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import { t } from '../../core/language';
import type { State } from '../../core/store';
import { defineTool, type Effect, type Hit, type Tool, type ToolContext } from '../../core/tools/machine';
import { arrangedNow, inPiece } from '../pieces/layout';
import { dartOf, isDerived, lookup, type FoundEdge } from '../pieces/lookup';
import { alongA } from '../pieces/run';
import { pathOf } from '../pieces/shape';
import { planNow } from './actions';
import { put, spotIn, withSpot } from './fields';
import { knotAt } from './knots';
import { lastPlace } from './named';
import { askedSpot, piecesOf, planOf, seamKnots, spotFields, withKnot, withNewKnot, withPlace, type Plan } from './plan';
import { profileOf } from './profile';
import { drawnOf, placeName } from './strokes';

type Held = { on: Hit | null; at: Point; moving: boolean } | null;
const STILL_PX = 4;

const hand = defineTool<Held>({
  id: 'mock-ups.hand', room: 'mock-ups', words: 'mock-ups.hand', resting: true, initial: null,
  cursor: (held) => (held?.moving ? 'grabbing' : 'default'),
  step(held, event, context) {
    if (event.kind === 'press') return { state: { on: event.on, at: event.at, moving: false }, effects: [{ do: 'capture', on: true }] };
    if (event.kind === 'move' && held) {
      const far = Math.hypot(event.at[0] - held.at[0], event.at[1] - held.at[1]) >= STILL_PX * context.mm_per_px;
      if (!held.moving && !far) return { state: held };
      const plan = held.on ? dragged(context.state, held.on, event.at) : null;
      return { state: { ...held, moving: true }, effects: plan ? [{ do: 'draft', draft: { kind: 'mock-ups.plan', value: plan } }] : [] };
    }
    if (event.kind === 'release' && held) {
      const kept = held.moving ? planNow(context.state) : null;
      const effects: Effect[] = held.moving
        ? [{ do: 'command', id: 'mock-ups.plan', with: kept }, { do: 'draft', draft: null }]
        : pressed(held.on, event.at, context);
      return { state: null, effects: [{ do: 'capture', on: false }, ...effects] };
    }
    if (event.kind === 'cancel' || event.kind === 'blur') {
      return { state: null, effects: held ? [{ do: 'capture', on: false }, { do: 'draft', draft: null }] : [] };
    }
    return { state: held };
  },
});

/** The plan with the thing under the hand put elsewhere. */
function dragged(state: State, on: Hit, at: Point): Plan | null {
  const garment = state.doc.garment;
  const plan = planOf(state);
  if (!garment || !plan) return null;
  const layout = arrangedNow(state);
  if (on.kind === 'knot') {
    const [index, side, piece] = splitId(on.id);
    const along = seamKnots(garment, plan);
    const knot = along && knotAt(garment, along.seam, side === 'b' ? 'b' : 'a', along.shares[side === 'b' ? 1 : 0], piece, inPiece(layout, piece, at));
    return along && knot ? { ...plan, params: { ...plan.params, knots: withKnot(along.knots, Number(index), knot, lastPlace(garment, along.seam)) } } : null;
  }
  const drawn = drawnOf(garment, plan);
  if (on.kind === 'apex' && drawn.point) return { ...plan, params: put(plan.params, drawn.point.name, inPiece(layout, drawn.point.piece, at)) };
  if (on.kind !== 'mouth') return null;
  const field = spotFields(plan).find((one) => one.name === placeName(on.id));
  const spot = field && spotIn(garment, field, plan.params);
  const found = spot && 'edge' in spot ? lookup(garment).edges.get(spot.edge) : undefined;
  if (!field || !found) return null;
  const mm = pathOf(found.edge).nearest(inPiece(layout, found.piece.id, at)).atMm;
  return { ...plan, params: withSpot(garment, field, plan.params, { edge: found.edge.id, mm: mouthKept(plan, found.edge.length_mm, mm) }) };
}

/** A mouth stays wholly on its edge. */
function mouthKept(plan: Plan, long: number, mm: number): number {
  const intake = plan.params['intake_mm'];
  const half = typeof intake === 'number' ? Math.min(intake / 2 + 1, long / 2) : 0;
  return Math.min(Math.max(mm, half), long - half);
}

/** Knots are called `<index>|<side>|<piece>`. */
function splitId(id: string): [string, string, string] {
  const [index = '', side = '', ...piece] = id.split('|');
  return [index, side, piece.join('|')];
}

function pressed(on: Hit | null, at: Point, { state }: ToolContext): Effect[] {
  const garment = state.doc.garment;
  if (!garment || !on) return [{ do: 'select', selection: {} }];
  if (on.kind === 'knot' || on.kind === 'apex' || on.kind === 'mouth') return [];
  if (on.kind !== 'edge') return [{ do: 'select', selection: {} }];
  const found = lookup(garment).edges.get(on.id);
  if (!found || isDerived(found.piece)) return [{ do: 'select', selection: {} }];
  const here = inPiece(arrangedNow(state), found.piece.id, at);
  const mm = pathOf(found.edge).nearest(here).atMm;
  const plan = planOf(state);
  if (plan) return pressedFor(state, garment, plan, found, mm);
  return [{ do: 'select', selection: { edge: [on.id] } }, { do: 'command', id: 'mock-ups.place', with: { edge: on.id, mm } }];
}

/** An edge pressed while a change is thought of: one more knot on its seam, or the place that it asks for. */
function pressedFor(state: State, garment: GarmentView, plan: Plan, found: FoundEdge, mm: number): Effect[] {
  const made = withPressedKnot(garment, plan, found, mm);
  if (made) return [{ do: 'command', id: 'mock-ups.plan', with: made }];
  const field = askedSpot(state, plan);
  if (!field) return [];
  const leg = dartOf(found);
  if (leg && !field.darts) return [{ do: 'say', sentence: t('mock-ups.ask.no-leg') }];
  const moved = withPlace(garment, plan, field, leg ? { dart: leg.id } : { edge: found.edge.id, mm: mouthKept(plan, found.edge.length_mm, mm) });
  if (moved) return [{ do: 'command', id: 'mock-ups.plan', with: moved }];
  const names = piecesOf(garment, plan).map((id) => lookup(garment).pieces.get(id)?.name ?? '');
  return [{ do: 'say', sentence: t('mock-ups.ask.same-piece', { piece: names.join(', ') }) }];
}

/** The plan with one more knot where its seam was pressed; null: it was not. */
function withPressedKnot(garment: GarmentView, plan: Plan, found: FoundEdge, mm: number): Plan | null {
  const along = seamKnots(garment, plan);
  const at = along && alongA(garment, along.seam, found.edge.id, mm);
  if (!along || at === null) return null;
  const place = Math.min(at, lastPlace(garment, along.seam));
  const knots = withNewKnot(along.knots, [place, Math.round(profileOf(along.knots)(place) * 2) / 2]);
  return { ...plan, params: { ...plan.params, knots } };
}

export const tools: readonly Tool[] = [hand];
