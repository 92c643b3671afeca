/** The fit changes by name: a row for each, with what has to be pointed at, its numbers and its words. */

import type { GarmentView, SeamView } from '../../client/types.gen';
import { t, type Key } from '../../core/language';
import { lookup, neighbour } from '../pieces/lookup';
import { alongA, runLength } from '../pieces/run';
import { BUST_BESIDE, bustDart, bustPoint, isFront, lowPlace, onArmhole, onSide } from './bust';
import { resolved, ROUNDED_MM, type ChoiceField, type DartField, type Field, type Here, type KnotsField, type NumberField, type Params, type PointField, type SeamField, type SpotField } from './fields';
import { across, atRunEnd, besideLower, beyond, inwards, lowerEnd, placeHere, squareIn, toDart } from './guess';
import type { Knot } from './profile';
import { readShare, SHARES } from './share';
import { ARMHOLE, capEase, capSides, joinable, ROUND, SHOULDER, shoulderLike, withItself } from './where';

/** What a change is a change of: the headings under which it is offered. */
export const GROUPS = ['edge', 'seam', 'piece', 'dart', 'garment'] as const;

export interface Row {
  /** The kind of change, as the server calls it. */
  change: string;
  /** The command that begins it. Its words have the same key, and a sentence under `.how`. */
  id: Key & `mock-ups.${string}`;
  keys?: readonly string[];
  group: (typeof GROUPS)[number];
  fields: readonly Field[];
  /** Whether it can be begun there. */
  fits: (here: Here) => boolean;
  /** How likely it is meant there, 0 to 1: the likeliest are offered at once. */
  likely: (here: Here) => number;
  /** Whether it goes there only the server can tell: it is offered once it has been asked, and has not said no. */
  tried?: true;
  /** Of amounts along a seam: what part of them each side goes inwards. */
  shares?: (params: Params) => readonly [number, number];
}

// ---- where things fit

/** An edge that no dart is drawn at: no leg, no fold. */
const plain = (here: Here) => here.found !== null && !here.onDart && here.found.edge.kind !== 'fold';
const noLeg = (here: Here) => here.found !== null && !here.onDart;
/** A line square to the edge runs along the grain or straight across it, as pleats and tucks do. */
const squarely = (here: Here) => Math.max(...inwards(here).map(Math.abs)) > 0.9;
/** The edge straight across faces this one, so that both are met squarely. */
function facing(here: Here): boolean {
  const other = across(here);
  if (other === null || !('edge' in other)) return false;
  const [x, y] = inwards(here), [u, v] = inwards(resolved(here.garment, other));
  return x * u + y * v < -0.7;
}
const onSeam = (here: Here) => here.seam !== null && !here.onDart;
const unsewn = (here: Here) => plain(here) && (here.found?.edge.kind === 'hem' || here.found?.edge.seams.length === 0);
/** The cloth lies above the edge: a hem, a waist. */
const atFoot = (here: Here) => inwards(here)[1] > 0.5;
const hemLike = (here: Here) => isHem(here) || (unsewn(here) && atFoot(here));
/** A line across the grain leaves the piece there, or one along it. */
const crossedLevel = (here: Here) => noLeg(here) && Math.abs(inwards(here)[0]) >= 0.5;
const crossedUpright = (here: Here) => noLeg(here) && Math.abs(inwards(here)[1]) >= 0.5;
const isHem = (here: Here) => here.found?.edge.kind === 'hem';
const called = (here: Here, name: RegExp) => name.test(here.found?.edge.called ?? '');

// ---- fields that several changes share

const place = (more: Partial<SpotField> = {}): SpotField => ({
  as: 'spot', name: '', key: 'mock-ups.spot.place', ask: 'mock-ups.ask.place',
  first: placeHere, ...more,
});
const wholeEdge = (more: Partial<SpotField> = {}): SpotField => place({ whole: true, key: 'mock-ups.spot.edge', ask: 'mock-ups.ask.edge', ...more });
const to = (more: Partial<SpotField> & Pick<SpotField, 'first'>): SpotField => ({ as: 'spot', name: 'to', key: 'mock-ups.spot.to', ask: 'mock-ups.ask.to', ...more });
const mm = (name: string, key: Key, first: number | ((here: Here) => number | undefined), least: number, most: number, more: Partial<NumberField> = {}): NumberField => ({
  as: 'number', name, key, unit: 'mm', least, most, first: typeof first === 'number' ? () => first : first, ...more,
});
const amount = (name: string, key: Key, first: number | ((here: Here) => number | undefined), least: number, most: number): NumberField => mm(name, key, first, least, most, { amount: true });
const dart: DartField = { as: 'dart', name: 'dart', key: 'mock-ups.field.dart', first: (here) => here.dart?.dart.id };
const seam: SeamField = { as: 'seam', name: 'seam', key: 'mock-ups.field.seam' };
const apex = (more: Partial<PointField> = {}): PointField => ({ as: 'point', name: 'apex', key: 'mock-ups.field.apex', first: squareIn, ...more });
const onlyHere: Field = {
  as: 'switch', name: 'only', key: 'mock-ups.field.only', off: undefined, otherwise: false,
  on: (garment, params) => [lookup(garment).edges.get(String(params['edge']))?.piece.id ?? ''],
};
/** A choice of words that are always the same; the first is what it is at the beginning. */
function choice(name: string, key: Key, words: Readonly<Record<string, Key>>): ChoiceField {
  const options = Object.entries(words).map(([value, of]) => ({ value, of }));
  return { as: 'choice', name, key, first: () => options[0]?.value, options: () => options.map(({ value, of }) => ({ value, words: t(of) })) };
}
/** A line that was traced has its place: nothing is pointed at. */
const unmarked = (params: Params) => params['mark'] === undefined;
const measured = choice('measured', 'mock-ups.field.how-measured', { whole: 'mock-ups.measured.whole', folded: 'mock-ups.measured.folded' });
const pressed: ChoiceField = {
  as: 'choice', name: 'pressed', key: 'mock-ups.field.pressed', first: () => 'first',
  options: (garment, params) => pressedWays(garment, String(params['edge'])),
};
/** Towards which of its neighbours what opens at an edge is pressed. */
export function pressedWays(garment: GarmentView, edge: string): { value: 'first' | 'second'; words: string }[] {
  const found = lookup(garment).edges.get(edge);
  return ([['first', -1], ['second', 1]] as const).map(([value, by]) => {
    const beside = found && neighbour(found.piece, found.index, by);
    return { value, words: beside ? t('mock-ups.pressed.towards', { edge: beside.called }) : t(`mock-ups.pressed.${value}`) };
  });
}
const part: Field = { as: 'text', name: 'part', key: 'mock-ups.field.part' };

const seamOf = (garment: GarmentView, params: Params) => lookup(garment).seams.get(String(params['seam']));

/** How far along a seam a knot may lie. */
export function lastPlace(garment: GarmentView, of: SeamView): number {
  return Math.max(runLength(garment, of.a) - ROUNDED_MM * of.a.length, 0);
}

/** Amounts along a seam: most at the place that was pressed, tapering to nothing at both ends; or the same all along. */
function alongSeam(key: Key, first_mm: number, taper: boolean): KnotsField {
  return {
    as: 'knots', name: 'knots', key,
    whole: (garment, params) => {
      const found = seamOf(garment, params);
      return found ? lastPlace(garment, found) : 0;
    },
    first: ({ garment, seam: found, found: edge, mm: at_mm }) => {
      if (!found) return undefined;
      const whole = lastPlace(garment, found), least = Math.min(20, whole / 4);
      const pressed = (edge && alongA(garment, found, edge.edge.id, at_mm)) ?? whole / 2;
      const at = Math.min(Math.max(pressed, least), whole - least);
      return taper ? [[0, 0], [at, first_mm], [whole, 0]] : [[0, first_mm], [whole, first_mm]] as Knot[];
    },
  };
}

/** "at the armhole": the edge beside an end of a seam's first side. */
function endWords(garment: GarmentView, params: Params, end: 'start' | 'end'): string {
  const edge = atRunEnd({ garment }, seamOf(garment, params)?.a ?? [], end);
  return edge ? t('mock-ups.end.at', { edge: edge.called }) : t(`mock-ups.end.${end}`);
}
/** "into the piece along the shoulder": the edge on which an end of an opening slides. */
function slideWords(garment: GarmentView, params: Params, end: 'start' | 'end'): string {
  const found = lookup(garment).edges.get(String(params['edge']));
  const edge = found && neighbour(found.piece, found.index, end === 'end' ? 1 : -1);
  return edge ? t('mock-ups.field.slide', { edge: edge.called }) : t(`mock-ups.field.${end}`);
}

/** So near to the end of an edge its corner is meant. */
const CORNER_MM = 10;
/** The end of the edge that was pressed at, if it was pressed there. */
function cornerHere({ found, mm: at }: Here): number | null {
  const long = found?.edge.length_mm ?? 0;
  return at < Math.min(CORNER_MM, long / 4) ? 0 : at > long - Math.min(CORNER_MM, long / 4) ? long : null;
}

const level = (params: Params) => params['knots'] === undefined;

/** What a new dart takes up at first, mm; less on a short edge. */
function firstIntake({ found }: Here): number {
  return Math.min(10, (found?.edge.length_mm ?? 40) / 4);
}
/** How wide a wedge is at first, mm; less near an end of the edge, of which a little is left on both sides. */
function firstWidth(here: Here): number {
  const spot = placeHere(here), long = here.found?.edge.length_mm ?? 0;
  return spot && 'edge' in spot ? Math.min(10, Math.floor(2 * (Math.min(spot.mm, long - spot.mm) - 1))) : 10;
}
/** The middle of a new dart's mouth: so far from both ends that the mouth lies on the edge. */
function mouthHere(here: Here): number {
  const half = firstIntake(here) / 2 + 1, long = here.found?.edge.length_mm ?? 0;
  return Math.min(Math.max(here.mm, half), long - half);
}

export const ROWS: readonly Row[] = [
  {
    change: 'fit.take_in', id: 'mock-ups.take-in', keys: ['i'], group: 'seam',
    fits: onSeam, likely: () => 1, shares: (params) => [Number(params['share_a'] ?? 0.5), 1 - Number(params['share_a'] ?? 0.5)],
    fields: [
      seam, alongSeam('mock-ups.field.amount', 10, true),
      {
        as: 'choice', name: 'share_a', key: 'mock-ups.share', first: () => 0.5,
        options: (garment, params) => {
          const found = seamOf(garment, params);
          return found ? SHARES.filter((value) => value === 0.5 || !withItself(found)).map((value) => ({ value, words: readShare(value, found) })) : [];
        },
      },
    ],
  },
  {
    change: 'fit.add_dart', id: 'mock-ups.dart', keys: ['d'], group: 'edge', fits: plain, likely: (here) => (isHem(here) ? 0.3 : 0.8),
    fields: [
      place({ first: (here) => here.found && { edge: here.found.edge.id, mm: mouthHere(here) } }),
      amount('intake_mm', 'mock-ups.field.intake', firstIntake, 1, 200),
      apex({ first: (here) => squareIn({ ...here, mm: mouthHere(here) }) }),
    ],
  },
  {
    change: 'fit.move_dart', id: 'mock-ups.move-dart', keys: ['m'], group: 'dart',
    fits: (here) => here.dart !== null && (here.onDart || plain(here)), likely: (here) => (here.onDart ? 0.9 : 0.85),
    fields: [dart, place({ key: 'mock-ups.spot.dart-to', ask: 'mock-ups.ask.dart-to' })],
  },
  {
    change: 'fit.wedge', id: 'mock-ups.wedge', keys: ['w'], group: 'edge', fits: plain, likely: (here) => (called(here, ROUND) ? 0.9 : isHem(here) ? 0.1 : 0.6),
    fields: [
      place(), amount('width_mm', 'mock-ups.field.width', firstWidth, -200, 200),
      to({ darts: true, first: (here) => toDart(here) ?? across(here) }),
    ],
  },
  {
    change: 'fit.lengthen', id: 'mock-ups.lengthen', keys: ['l'], group: 'piece', fits: crossedLevel, likely: (here) => (called(here, ROUND) ? 0.2 : 0.7),
    fields: [
      place(), amount('by_mm', 'mock-ups.field.longer', 20, -500, 500),
      onlyHere,
    ],
  },
  {
    change: 'fit.widen', id: 'mock-ups.widen', keys: ['u'], group: 'piece', fits: crossedUpright, likely: (here) => (isHem(here) ? 0.5 : called(here, SHOULDER) ? 0.4 : 0.05),
    fields: [place(), amount('by_mm', 'mock-ups.field.wider', 10, -200, 200), onlyHere],
  },
  {
    change: 'fit.hem', id: 'mock-ups.hem', keys: ['h'], group: 'edge', fits: hemLike, likely: (here) => (isHem(here) ? 1 : 0.2),
    fields: [
      wholeEdge(), mm('by_mm', 'mock-ups.field.longer', 20, -800, 1500, { amount: true, shown: level }),
      {
        as: 'knots', name: 'knots', key: 'mock-ups.field.longer', first: () => undefined,
        whole: (garment, params) => lookup(garment).edges.get(String(params['edge']))?.edge.length_mm ?? 0,
      },
    ],
  },
  {
    change: 'fit.opening', id: 'mock-ups.opening', keys: ['o'], group: 'edge', fits: (here) => plain(here) && !isHem(here),
    likely: (here) => (called(here, ROUND) ? 1 : here.found?.edge.kind === 'opening' ? 0.8 : 0.2),
    fields: [
      wholeEdge(),
      mm('start_mm', 'mock-ups.field.start', 10, -200, 200, { amount: true, words: (garment, params) => slideWords(garment, params, 'start') }),
      mm('end_mm', 'mock-ups.field.end', 0, -200, 200, { words: (garment, params) => slideWords(garment, params, 'end') }),
      { as: 'switch', name: 'mates', key: 'mock-ups.field.mates', on: () => true, off: false, otherwise: true },
    ],
  },
  {
    change: 'fit.flare', id: 'mock-ups.flare', keys: ['f'], group: 'piece', fits: hemLike, likely: (here) => (isHem(here) ? 0.9 : 0.1),
    fields: [
      wholeEdge(), amount('by_mm', 'mock-ups.field.flare', 60, -1000, 2000),
      to({ whole: true, key: 'mock-ups.spot.above', ask: 'mock-ups.ask.above', first: (here) => across({ ...here, mm: (here.found?.edge.length_mm ?? 0) / 2 }, { darts: 'pass' }) }),
      mm('slashes', 'mock-ups.field.slashes', 3, 1, 12, { unit: 'count' }),
    ],
  },
  {
    change: 'fit.broaden', id: 'mock-ups.broaden', keys: ['b'], group: 'piece', fits: (here) => plain(here) && inwards(here)[1] < -0.5 && besideLower(here) !== null, likely: (here) => (called(here, SHOULDER) ? 0.8 : 0.1),
    fields: [
      place(), amount('by_mm', 'mock-ups.field.broader', 8, -100, 100),
      to({ key: 'mock-ups.spot.about', ask: 'mock-ups.ask.about', first: besideLower }),
    ],
  },
  {
    change: 'fit.bust', id: 'mock-ups.bust', group: 'piece', fits: (here) => isFront(here) && (here.onDart || (plain(here) && (atFoot(here) || called(here, BUST_BESIDE)))),
    likely: (here) => (here.onDart ? 0.3 : isHem(here) ? 0.4 : called(here, ARMHOLE) ? 0.5 : 0.1),
    fields: [
      { ...dart, key: 'mock-ups.field.bust-dart', optional: 'mock-ups.field.bust-dart.none', first: bustDart },
      place({
        key: 'mock-ups.spot.slash', ask: 'mock-ups.ask.slash',
        first: lowPlace,
      }),
      amount('by_mm', 'mock-ups.field.bust', 10, -80, 80),
      {
        as: 'spot', name: 'armhole', key: 'mock-ups.spot.armhole', ask: 'mock-ups.ask.armhole',
        first: onArmhole,
      },
      {
        as: 'spot', name: 'side', key: 'mock-ups.spot.side', ask: 'mock-ups.ask.side', wanted: (params) => params['dart'] === undefined,
        first: onSide,
      },
      apex({ key: 'mock-ups.field.bust-point', shown: (params) => params['dart'] === undefined, first: (here) => (bustDart(here) === undefined ? bustPoint(here) : undefined) }),
    ],
  },
  {
    change: 'fit.move_freely', id: 'mock-ups.move-freely', keys: ['v'], group: 'edge', fits: plain, likely: (here) => (cornerHere(here) !== null ? 0.95 : 0.4),
    fields: [
      place({ first: (here) => here.found && { edge: here.found.edge.id, mm: cornerHere(here) ?? here.mm } }),
      mm('in_mm', 'mock-ups.field.in', (here) => (cornerHere(here) === null ? 10 : undefined), -150, 150, { amount: true, shown: (params) => params['by'] === undefined }),
      { as: 'vector', name: 'by', key: 'mock-ups.field.right', keys: ['mock-ups.field.right', 'mock-ups.field.up'], first: (here) => (cornerHere(here) === null ? undefined : [5, 5]) },
      mm('over_mm', 'mock-ups.field.over', (here) => (cornerHere(here) === null ? 0 : undefined), 0, 2000, { shown: (params) => params['by'] === undefined }),
      mm('fade_mm', 'mock-ups.field.fade', 60, 0, 1000),
    ],
  },
  {
    change: 'fit.cut', id: 'mock-ups.cut', keys: ['c'], group: 'piece', fits: noLeg, likely: () => 0.3,
    fields: [place({ darts: true }), to({ darts: true, first: (here) => across(here, { fold: true }) }), part, { as: 'text', name: 'seam', key: 'mock-ups.field.new-seam' }],
  },
  {
    change: 'fit.move_seam', id: 'mock-ups.move-seam', keys: ['s'], group: 'seam', fits: (here) => onSeam(here) && !withItself(here.seam), likely: (here) => (called(here, SHOULDER) ? 0.9 : 0.3), shares: () => [-1, 1],
    fields: [seam, alongSeam('mock-ups.field.gains', 10, false)],
  },
  {
    change: 'fit.shoulder_slope', id: 'mock-ups.shoulder-slope', group: 'seam', fits: (here) => onSeam(here) && shoulderLike(here), likely: () => 0.95,
    fields: [
      seam, amount('drop_mm', 'mock-ups.field.drop', 6, -80, 80),
      {
        as: 'choice', name: 'tip', key: 'mock-ups.field.tip',
        first: ({ garment, seam: found }) => {
          const run = found?.a[0], edge = run && lookup(garment).edges.get(run.edge)?.edge;
          return run && edge ? ((lowerEnd(edge) === 'end') !== run.reverse ? 'end' : 'start') : 'end';
        },
        options: (garment, params) => (['start', 'end'] as const).map((value) => ({ value, words: endWords(garment, params, value) })),
      },
    ],
  },
  {
    change: 'fit.sleeve_cap', id: 'mock-ups.sleeve-cap', group: 'seam', fits: (here) => onSeam(here) && capSides(here.garment, here.seam).length > 0,
    likely: (here) => (called(here, /cap|sleeve/i) ? 0.95 : called(here, ARMHOLE) ? 0.9 : 0.05),
    fields: [
      seam,
      {
        as: 'choice', name: 'cap', key: 'mock-ups.field.cap', first: ({ garment, seam: found }) => capSides(garment, found)[0],
        options: (garment, params) => {
          const found = seamOf(garment, params);
          return found ? capSides(garment, found).map((value) => ({ value, words: value === 'a' ? found.words_a : found.words_b })) : [];
        },
      },
      amount('ease_mm', 'mock-ups.field.ease', ({ garment, seam: found }) => (found ? capEase(garment, found) : 0), -100, 200),
      {
        as: 'choice', name: 'how', key: 'mock-ups.field.cap-how', first: () => 'both',
        options: () => (['both', 'wider', 'higher'] as const).map((value) => ({ value, words: t(`mock-ups.cap.${value}`) })),
      },
    ],
  },
  {
    change: 'fit.join', id: 'mock-ups.join', keys: ['j'], group: 'seam', tried: true, fits: (here) => onSeam(here) && joinable(here), likely: () => 0.25,
    fields: [
      seam,
      mm('up_to_mm', 'mock-ups.field.up-to', () => undefined, 10, 3000, { amount: true, optional: { key: 'mock-ups.field.up-to.put', first: 100 } }),
      {
        as: 'choice', name: 'from_end', key: 'mock-ups.field.join-from', first: () => undefined, shown: (params) => params['up_to_mm'] !== undefined,
        options: (garment, params) => (['start', 'end'] as const).map((value) => ({ value, words: endWords(garment, params, value) })),
      },
    ],
  },
  {
    change: 'fit.dart_intake', id: 'mock-ups.dart-intake', group: 'dart', fits: (here) => here.onDart && here.dart !== null, likely: () => 0.95,
    fields: [dart, amount('intake_mm', 'mock-ups.field.intake', (here) => Math.round((here.dart?.dart.intake_mm ?? 10) + 4), 1, 300)],
  },
  {
    change: 'fit.dart_shorten', id: 'mock-ups.dart-shorten', group: 'dart', fits: (here) => here.onDart && here.dart !== null, likely: () => 0.92,
    fields: [dart, amount('by_mm', 'mock-ups.field.shorter', 10, -200, 200)],
  },
  { change: 'fit.dart_remove', id: 'mock-ups.dart-remove', group: 'dart', fits: (here) => here.onDart && here.dart !== null, likely: () => 0.6, fields: [dart] },
  {
    change: 'fit.dart_to_ease', id: 'mock-ups.dart-to-ease', group: 'dart', fits: (here) => here.onDart && here.dart !== null, likely: () => 0.5,
    fields: [
      dart, choice('how', 'mock-ups.field.taken-up', { eased: 'mock-ups.taken-up.eased', gathered: 'mock-ups.taken-up.gathered' }),
      mm('beside_mm', 'mock-ups.field.beside', (here) => Math.max(20, Math.round(here.dart?.dart.intake_mm ?? 20)), 1, 400, { amount: true, shown: (params) => params['how'] === 'gathered' }),
    ],
  },
  { change: 'fit.dart_cap', id: 'mock-ups.dart-cap', group: 'dart', fits: (here) => here.onDart && here.dart !== null, likely: () => 0.55, fields: [dart] },
  {
    change: 'fit.dart_split', id: 'mock-ups.dart-split', group: 'dart', fits: (here) => here.dart !== null && (here.onDart || plain(here)), likely: (here) => (here.onDart ? 0.7 : 0.25),
    fields: [
      dart, place({ key: 'mock-ups.spot.second-dart', ask: 'mock-ups.ask.second-dart' }),
      mm('share', 'mock-ups.field.share', 0.5, 0.05, 0.95, { unit: 'share' }),
      mm('short_mm', 'mock-ups.field.short', 25, 2, 150),
    ],
  },
  {
    change: 'fit.princess', id: 'mock-ups.princess', group: 'dart', fits: (here) => here.dart !== null && (here.onDart || plain(here)), likely: (here) => (here.onDart ? 0.4 : called(here, SHOULDER) || called(here, ROUND) ? 0.35 : 0.1),
    fields: [
      dart,
      place({
        key: 'mock-ups.spot.from', ask: 'mock-ups.ask.from',
        first: (here) => (here.onDart ? here.dart && beyond(here.dart) : placeHere(here)),
      }),
      part,
    ],
  },
  {
    change: 'fit.resize', id: 'mock-ups.resize', group: 'garment', fits: (here) => here.found === null && !here.onDart && here.seam === null && here.garment.pieces.length > 0, likely: () => 0.5,
    fields: [
      amount('girth_mm', 'mock-ups.field.girth', 40, -200, 200),
      mm('length_mm', 'mock-ups.field.body-longer', 0, -200, 200), mm('sleeve_mm', 'mock-ups.field.sleeve-longer', 0, -200, 200),
      mm('armhole_mm', 'mock-ups.field.armhole-deeper', () => undefined, -200, 200, { optional: { key: 'mock-ups.field.armhole-deeper.put', first: 4 } }),
      mm('neck_mm', 'mock-ups.field.neck', () => undefined, -50, 50, { optional: { key: 'mock-ups.field.neck.put', first: 1 } }),
      mm('shoulder_mm', 'mock-ups.field.shoulder', () => undefined, -50, 50, { optional: { key: 'mock-ups.field.shoulder.put', first: 3 } }),
      mm('underarm_mm', 'mock-ups.field.underarm', () => undefined, -50, 50, { optional: { key: 'mock-ups.field.underarm.put', first: 6 } }),
    ],
  },
  {
    change: 'fit.open_dart', id: 'mock-ups.open-dart', group: 'dart', fits: plain, likely: () => 0.15,
    fields: [
      place({ wanted: unmarked, first: (here) => here.found && { edge: here.found.edge.id, mm: mouthHere(here) } }),
      amount('intake_mm', 'mock-ups.field.measured', firstIntake, 1, 200), measured, pressed,
      apex({ shown: unmarked, first: (here) => squareIn({ ...here, mm: mouthHere(here) }) }),
    ],
  },
  {
    change: 'fit.open_pleat', id: 'mock-ups.open-pleat', group: 'piece', fits: (here) => plain(here) && squarely(here) && facing(here), likely: () => 0.12,
    fields: [
      place({ wanted: unmarked }), amount('intake_mm', 'mock-ups.field.measured', 30, 1, 400),
      mm('far_mm', 'mock-ups.field.far', () => undefined, 0, 400, { optional: { key: 'mock-ups.field.far.put', first: 0 } }),
      measured, choice('how', 'mock-ups.field.sewn', { pleat: 'mock-ups.sewn.pleat', tuck: 'mock-ups.sewn.tuck' }), pressed,
      to({ wanted: unmarked, first: (here) => across(here) }),
    ],
  },
  {
    change: 'fit.open_gathers', id: 'mock-ups.open-gathers', group: 'edge', fits: (here) => plain(here) && across(here) !== null, likely: () => 0.12,
    fields: [
      wholeEdge(), mm('ratio', 'pattern.gathers.times', () => undefined, 1.05, 6, { unit: 'times', optional: { key: 'mock-ups.field.times.put', first: 1.5 } }),
      mm('flat_mm', 'mock-ups.field.flat', (here) => Math.round((here.found?.edge.length_mm ?? 0) * 1.5), 5, 6000, { amount: true, shown: (params) => params['ratio'] === undefined }),
      mm('from_mm', 'mock-ups.field.from', 0, 0, 3000), mm('to_mm', 'mock-ups.field.to', (here) => here.found?.edge.length_mm, 0, 3000),
      choice('how', 'mock-ups.field.taken-up', { gathered: 'mock-ups.taken-up.gathered', eased: 'mock-ups.taken-up.eased' }),
      to({ whole: true, key: 'mock-ups.spot.opposite', ask: 'mock-ups.ask.opposite', first: (here) => across({ ...here, mm: (here.found?.edge.length_mm ?? 0) / 2 }, { darts: 'pass' }) }),
      choice('far', 'mock-ups.field.far-edge', { nothing: 'mock-ups.far.nothing', same: 'mock-ups.far.same' }),
      mm('slashes', 'mock-ups.field.slashes', 5, 1, 12, { unit: 'count' }),
    ],
  },
];

const BY_CHANGE = new Map(ROWS.map((row) => [row.change, row]));

/** The row of a change; null: it is one that this table does not know. */
export function rowOf(change: string): Row | null {
  return BY_CHANGE.get(change) ?? null;
}

/** The changes that can be begun there, likeliest first. */
export function possible(here: Here): Row[] {
  return ROWS.filter((row) => row.fits(here)).sort((p, q) => q.likely(here) - p.likely(here));
}

/** The fields of a change. Of one that the table does not know: the numbers that its params have. */
export function fieldsOfChange(change: string, params: Params): readonly Field[] {
  return rowOf(change)?.fields ?? Object.keys(params).filter((name) => typeof params[name] === 'number').map(unknownNumber);
}

function unknownNumber(name: string): NumberField {
  const words = name.replace(/_(mm|deg)$/, '').replaceAll('_', ' ');
  return { ...mm(name, 'mock-ups.field.number', () => undefined, -Infinity, Infinity, { words: () => t('mock-ups.field.number', { name: words }) }), unit: name.endsWith('_mm') ? 'mm' : 'count' };
}
