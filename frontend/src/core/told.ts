/** What the workroom says in sentences, with its millimetres and centimetres in the maker's unit. */

import { area, measure, type Unit } from './units';

/** Below this a length stays in millimetres for one who thinks in centimetres: "8 mm", not "0.8 cm". */
const STAYS_MM = 20;
/** Below this an inch rule has no line. */
const LEAST_IN_MM = 25.4 / 32;
const NUMBER = String.raw`[+−-]?\d+(?:\.\d+)?`;
const LENGTHS = new RegExp(String.raw`(${NUMBER}(?:(?: × | x | to |–| and |, )${NUMBER})*) (mm|cm)(?![\p{L}\d²³/])`, 'gu');
const AREA = new RegExp(String.raw`(\d+(?:\.\d+)?) (mm|cm|m)²`, 'gu');
/** The maker's own words, which stay as they were written. */
const QUOTED = /(“[^”]*”)/u;
const MM2: Record<string, number> = { mm: 1, cm: 100, m: 1e6 };

/** Return a sentence with lengths and areas in `unit`. Names in quotation marks are left alone. */
export function told(sentence: string, unit: Unit): string {
  return sentence
    .split(QUOTED)
    .map((part, k) => (k % 2 === 1 ? part : part.replace(LENGTHS, (_, numbers: string, from: string) => lengths(numbers, from, unit)).replace(AREA, (all, number: string, of: string) => (unit === 'in' ? area(Number(number) * (MM2[of] ?? NaN), 'in') : all))))
    .join('');
}

function lengths(numbers: string, from: string, unit: Unit): string {
  const factor = from === 'cm' ? 10 : 1;
  const apart = numbers.split(new RegExp(`(${NUMBER})`, 'u'));
  const values = apart.filter((_, k) => k % 2 === 1);
  const largest = Math.max(...values.map((one) => Math.abs(mmOf(one, factor))));
  const to: Unit = unit === 'cm' && from === 'mm' && largest < STAYS_MM ? 'mm' : unit;
  if (to === from) return `${numbers} ${from}`;
  return `${apart.map((one, k) => (k % 2 === 1 ? written(one, factor, to) : one)).join('')} ${to}`;
}

function written(number: string, factor: number, to: Unit): string {
  const mm = mmOf(number, factor);
  const sign = number.startsWith('+') ? '+' : '';
  if (to === 'in' && mm !== 0 && Math.abs(mm) < LEAST_IN_MM) return 'less than 1/16';
  return sign + measure(mm, to, { bare: true, fine: number.includes('.') || factor === 1 });
}

function mmOf(number: string, factor: number): number {
  return Number(number.replace('−', '-')) * factor;
}
