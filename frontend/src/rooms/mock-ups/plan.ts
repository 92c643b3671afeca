/** A change of fit that is being thought of: kept in this window until it is applied or left. */

import type { GarmentView, SeamView } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import type { State } from '../../core/store';
import { lookup } from '../pieces/lookup';
import { runLength } from '../pieces/run';
import { inside, pathOf, shapeOf } from '../pieces/shape';
import type { Knot } from './profile';

export type Plan =
  | { kind: 'take-in'; seam: string; knots: readonly Knot[]; share_a: number }
  | { kind: 'dart'; edge: string; mm: number; intake_mm: number; apex: Point }
  | { kind: 'move-dart'; dart: string; edge: string; mm: number };

export function planOf(state: State): Plan | null {
  const plan = state.view.own['mock-ups']?.['plan'] as Plan | null | undefined;
  return plan && state.doc.garment && stands(state.doc.garment, plan) ? plan : null;
}

/** The pieces that a plan is about. */
export function piecesOf(garment: GarmentView, plan: Plan): string[] {
  const things = lookup(garment);
  if (plan.kind !== 'take-in') return [things.edges.get(plan.edge)?.piece.id ?? ''];
  const seam = things.seams.get(plan.seam);
  return [...new Set([...(seam?.a ?? []), ...(seam?.b ?? [])].map((part) => part.piece))];
}

/** Whether what the plan speaks of is still there. */
export function stands(garment: GarmentView, plan: Plan): boolean {
  const things = lookup(garment);
  if (plan.kind === 'take-in') return things.seams.has(plan.seam);
  return things.edges.has(plan.edge) && (plan.kind === 'dart' || garment.pieces.some((piece) => piece.darts.some((dart) => dart.id === plan.dart)));
}

/** What a change by a plan is, for the server. */
export function changeOf(plan: Plan): { kind: string; params: Record<string, unknown> } {
  switch (plan.kind) {
    case 'take-in':
      return { kind: 'fit.take_in', params: { seam: plan.seam, knots: sortedKnots(plan.knots), share_a: plan.share_a } };
    case 'dart':
      return { kind: 'fit.add_dart', params: { edge: plan.edge, mm: plan.mm, from_end: 'start', intake_mm: plan.intake_mm, apex: plan.apex } };
    case 'move-dart':
      return { kind: 'fit.move_dart', params: { dart: plan.dart, edge: plan.edge, mm: plan.mm, from_end: 'start' } };
  }
}

/** A plan that changes nothing yet. */
export function idle(plan: Plan): boolean {
  return plan.kind === 'take-in' && plan.knots.every(([, mm]) => mm === 0);
}

/** Two knots no closer than this stand at different places. */
const APART_MM = 1;

export function sortedKnots(knots: readonly Knot[]): Knot[] {
  const sorted = [...knots].sort((p, q) => p[0] - q[0]);
  return sorted.filter((knot, i) => i === 0 || knot[0] - (sorted[i - 1]?.[0] ?? 0) >= APART_MM);
}

/** The server tells lengths to a thousandth of a mm: a knot at the very end must not lie beyond it. */
const ROUNDED_MM = 0.001;

/** How far along a seam a knot may lie. */
export function lastPlace(garment: GarmentView, seam: SeamView): number {
  return Math.max(runLength(garment, seam.a) - ROUNDED_MM * seam.a.length, 0);
}

/** The first amount that is offered. */
const FIRST_MM = 10;

/** Taking in a seam, tapering to nothing at both ends, most at `at_mm`. */
export function takeIn(garment: GarmentView, seam: string, at_mm?: number): Plan | null {
  const found = lookup(garment).seams.get(seam);
  if (!found) return null;
  const whole = lastPlace(garment, found);
  const least = Math.min(20, whole / 4);
  const at = Math.min(Math.max(at_mm ?? whole / 2, least), whole - least);
  return { kind: 'take-in', seam, knots: [[0, 0], [at, FIRST_MM], [whole, 0]], share_a: 0.5 };
}

/** A dart at a place of an edge, pointing square into the piece as far as there is room, 90 mm at most. */
export function newDart(garment: GarmentView, edge: string, mm: number): Plan | null {
  const found = lookup(garment).edges.get(edge);
  if (!found) return null;
  const path = pathOf(found.edge);
  const intake_mm = Math.min(FIRST_MM, path.lengthMm / 4);
  const at = Math.min(Math.max(mm, intake_mm / 2 + 1), path.lengthMm - intake_mm / 2 - 1);
  const [x, y] = path.pointAt(at), [nx, ny] = path.normalAt(at);
  const { ring } = shapeOf(found.piece);
  const DEEPEST_MM = 90, SHALLOWEST_MM = 22;
  let deep = DEEPEST_MM;
  while (deep > SHALLOWEST_MM && !inside(ring, [x + nx * (deep + 8), y + ny * (deep + 8)])) deep -= 4;
  return { kind: 'dart', edge, mm: at, intake_mm, apex: [x + nx * deep, y + ny * deep] };
}

/** The knots with one put elsewhere, kept on the seam and between its neighbours. */
export function withKnot(knots: readonly Knot[], index: number, at: Knot, whole_mm: number): Knot[] {
  const low = (knots[index - 1]?.[0] ?? -APART_MM) + APART_MM;
  const high = (knots[index + 1]?.[0] ?? whole_mm + APART_MM) - APART_MM;
  return knots.map((knot, i): Knot => (i === index ? [Math.min(Math.max(at[0], low, 0), high, whole_mm), at[1]] : knot));
}

/** The knots with one more, in order. */
export function withNewKnot(knots: readonly Knot[], knot: Knot): Knot[] {
  return sortedKnots([...knots.filter((one) => Math.abs(one[0] - knot[0]) >= APART_MM), knot]);
}
