/** The hand of this room: choose an edge, move the knots of a seam that is taken in, the point and mouth of a dart. */

import type { Point } from '../../core/geometry-types';
import type { State } from '../../core/store';
import { defineTool, type Effect, type Hit, type Tool, type ToolContext } from '../../core/tools/machine';
import { arrangedNow, inPiece } from '../pieces/layout';
import { isDerived, lookup } from '../pieces/lookup';
import { pathOf } from '../pieces/shape';
import { planNow } from './actions';
import { knotAt } from './knots';
import { lastPlace, planOf, withKnot, withNewKnot, type Plan } from './plan';
import { profileOf } from './profile';

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
  if (on.kind === 'knot' && plan.kind === 'take-in') {
    const [index, side, piece] = splitId(on.id);
    const seam = lookup(garment).seams.get(plan.seam);
    const knot = seam && knotAt(garment, seam, side === 'b' ? 'b' : 'a', plan.share_a, piece, inPiece(layout, piece, at));
    return seam && knot ? { ...plan, knots: withKnot(plan.knots, Number(index), knot, lastPlace(garment, seam)) } : null;
  }
  if (plan.kind === 'take-in') return null;
  const found = lookup(garment).edges.get(plan.edge);
  if (!found) return null;
  const here = inPiece(layout, found.piece.id, at);
  if (on.kind === 'apex' && plan.kind === 'dart') return { ...plan, apex: here };
  if (on.kind === 'mouth') {
    const path = pathOf(found.edge);
    const half = plan.kind === 'dart' ? plan.intake_mm / 2 + 1 : 1;
    return { ...plan, mm: Math.min(Math.max(path.nearest(here).atMm, half), path.lengthMm - half) };
  }
  return null;
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
  const seam = plan?.kind === 'take-in' ? lookup(garment).seams.get(plan.seam) : undefined;
  if (plan?.kind === 'take-in' && seam) {
    const side = seam.a.some((part) => part.edge === on.id) ? 'a' : seam.b.some((part) => part.edge === on.id) ? 'b' : null;
    const on_seam = side && knotAt(garment, seam, side, side === 'a' ? Math.max(plan.share_a, 1e-6) : Math.max(1 - plan.share_a, 1e-6), found.piece.id, pathOf(found.edge).pointAt(mm));
    if (on_seam) {
      const amount = Math.round(profileOf(plan.knots)(on_seam[0]) * 2) / 2;
      return [{ do: 'command', id: 'mock-ups.plan', with: { ...plan, knots: withNewKnot(plan.knots, [on_seam[0], amount]) } }];
    }
  }
  if (plan && plan.kind !== 'take-in') {
    // the dart goes where the hand points
    const moved = plan.kind === 'move-dart' && found.piece.darts.some((dart) => dart.id === plan.dart) ? { ...plan, edge: on.id, mm } : null;
    if (moved) return [{ do: 'command', id: 'mock-ups.plan', with: moved }];
  }
  return [{ do: 'select', selection: { edge: [on.id] } }, { do: 'command', id: 'mock-ups.place', with: { edge: on.id, mm } }];
}

export const tools: readonly Tool[] = [hand];
