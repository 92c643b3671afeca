/** The numbers of a step that can be given otherwise. */

import type { HistoryLine } from '../../client/types.gen';
import type { Key } from '../../core/language';
import { rowOf } from './named';

export interface Field {
  /** Where it stands in the params: `['params', 'width_mm']`, `['knots', 1, 1]`. */
  path: readonly (string | number)[];
  key: Key;
  value: number;
  /** Of a share the value lies between 0 and 1. */
  unit: 'mm' | 'number' | 'share';
  /** Number of the place, for fields of a list. */
  n?: number;
}

/** Numbers of steps that are no change of fit; those of fit changes have their words in the table of named changes. */
const KEYS: Record<string, Pick<Field, 'key' | 'unit'>> = {
  mm: { key: 'mock-ups.field.along', unit: 'mm' },
  at_mm: { key: 'mock-ups.field.along-seam', unit: 'mm' },
  deviation_mm: { key: 'mock-ups.field.deviation', unit: 'mm' },
  allowance_mm: { key: 'mock-ups.field.allowance', unit: 'mm' },
  traced_allowance_mm: { key: 'mock-ups.field.traced', unit: 'mm' },
  straight_mm: { key: 'mock-ups.field.straight', unit: 'mm' },
  ease_mm: { key: 'mock-ups.field.ease', unit: 'mm' },
  width_mm: { key: 'mock-ups.field.width', unit: 'mm' },
  finished_mm: { key: 'mock-ups.field.finished', unit: 'mm' },
  shorter_mm: { key: 'mock-ups.field.shorter', unit: 'mm' },
  below_mm: { key: 'mock-ups.field.below', unit: 'mm' },
  count: { key: 'mock-ups.field.count', unit: 'number' },
  share_a: { key: 'mock-ups.field.share-a', unit: 'share' },
};

function known(kind: string, name: string): Pick<Field, 'key' | 'unit'> | undefined {
  const field = rowOf(kind)?.fields.find((one) => one.name === name && one.as === 'number');
  if (field?.as !== 'number') return KEYS[name];
  return { key: field.key, unit: field.unit === 'count' || field.unit === 'times' ? 'number' : field.unit };
}

/** What the amounts along a line mean. */
function amountKey(kind: string): Key {
  return rowOf(kind)?.fields.find((one) => one.as === 'knots')?.key ?? 'mock-ups.field.amount';
}

/** Numbers of other kinds of step are told by what was done, and not typed over. */
const NOT_OF: readonly string[] = ['trace.add', 'trace.again', 'mockup.note', 'fact.set'];

export function fieldsOf(line: Pick<HistoryLine, 'kind' | 'params'>): Field[] {
  if (NOT_OF.includes(line.kind)) return [];
  const params = (line.params ?? {}) as Record<string, unknown>;
  const fields: Field[] = [];
  for (const [name, value] of Object.entries(params)) {
    const field = known(line.kind, name);
    if (field && typeof value === 'number') fields.push({ path: [name], value, ...field });
  }
  const knots = params['knots'];
  if (Array.isArray(knots)) {
    knots.forEach((knot: unknown, i) => {
      const pair = knot as [number, number];
      fields.push({ path: ['knots', i, 0], key: 'mock-ups.field.place', value: Number(pair[0]), unit: 'mm', n: i + 1 });
      fields.push({ path: ['knots', i, 1], key: amountKey(line.kind), value: Number(pair[1]), unit: 'mm', n: i + 1 });
    });
  }
  const own = params['params'];
  if (own && typeof own === 'object') {
    for (const [name, value] of Object.entries(own)) {
      const field = known(line.kind, name);
      if (field && typeof value === 'number') fields.push({ path: ['params', name], value, ...field });
    }
  }
  return fields;
}

/** The params to send: only what stands at the top of the path, with the one number exchanged. */
export function amended(line: Pick<HistoryLine, 'params'>, path: Field['path'], value: number): Record<string, unknown> {
  const [top, ...rest] = path;
  const params = (line.params ?? {}) as Record<string, unknown>;
  return { [String(top)]: exchanged(params[String(top)], rest, value) };
}

function exchanged(in_: unknown, path: readonly (string | number)[], value: number): unknown {
  const [step, ...rest] = path;
  if (step === undefined) return value;
  if (Array.isArray(in_)) return in_.map((one: unknown, i) => (i === step ? exchanged(one, rest, value) : one));
  return { ...(in_ as Record<string, unknown>), [String(step)]: exchanged((in_ as Record<string, unknown>)[String(step)], rest, value) };
}
