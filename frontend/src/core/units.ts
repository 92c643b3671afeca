/** Lengths as the maker thinks of them: cm, mm, or inches to a sixteenth. */

export type Unit = 'cm' | 'mm' | 'in';
export const UNITS: readonly Unit[] = ['cm', 'mm', 'in'];
const MM_PER: Record<Unit, number> = { cm: 10, mm: 1, in: 25.4 };
/** Words of lengths by their first two letters. A yard is 0.9144 m: international yard and pound agreement, 1959. */
const MM_PER_WORD: Record<string, number> = { cm: 10, mm: 1, m: 1000, in: 25.4, '"': 25.4, yd: 914.4, ya: 914.4 };
const SIXTEENTHS = 16;

/**
 * Write a length.
 *
 * cm to one decimal ("12.5 cm"), mm to whole numbers ("125 mm"; `fine`: to a tenth), inches to 1/16
 * ("4 7/8 in"). `bare` leaves the unit out, for fields that show it beside them.
 */
export function measure(mm: number, unit: Unit, how: { fine?: boolean; bare?: boolean } = {}): string {
  const tail = how.bare ? '' : ` ${unit}`;
  if (unit === 'in') return inches(mm) + tail;
  const places = unit === 'cm' ? (how.fine ? 2 : 1) : how.fine ? 1 : 0;
  return plain(mm / MM_PER[unit], places) + tail;
}

/** A small difference: always in mm (to a tenth) or in inches to 1/16, never "0.4 cm". */
export function difference(mm: number, unit: Unit): string {
  return measure(mm, unit === 'in' ? 'in' : 'mm', { fine: Math.abs(mm) < 10 });
}

/** An area in cm², dm² or m² (or square inches). */
export function area(mm2: number, unit: Unit): string {
  if (unit === 'in') return `${plain(mm2 / 645.16, 0)} in²`;
  return mm2 >= 1e5 ? `${plain(mm2 / 1e6, 2)} m²` : `${plain(mm2 / 100, 0)} cm²`;
}

export function degrees(deg: number): string {
  return `${plain(deg, 1)}°`;
}

/**
 * Read a length that was typed; none when it is not one.
 *
 * A number alone is in `unit`; "12.5", "12,5 cm", "125mm", "4 7/8", "4-7/8 in", "7/8\"", "1 1/2 yd", "1.4 m", "-3 mm"
 * all hold.
 */
export function parseMeasure(text: string, unit: Unit): number | null {
  const found = /^\s*([+-]?)\s*(.*?)\s*(cm|mm|m|in|inch|inches|"|yd|yard|yards)?\s*$/i.exec(text);
  if (!found) return null;
  const [, sign, body = '', word] = found;
  const value = parseNumber(body);
  if (value === null) return null;
  const named = word === undefined ? MM_PER[unit] : (MM_PER_WORD[word.toLowerCase().slice(0, 2)] ?? NaN);
  return (sign === '-' ? -1 : 1) * value * named;
}

/** Read a number with a comma or a point, a fraction, or a whole and a fraction; none when it is none. */
export function parseNumber(body: string): number | null {
  const mixed = /^(?:(\d+)[\s-]+)?(\d+)\s*\/\s*(\d+)$/.exec(body);
  if (mixed) {
    const under = Number(mixed[3]);
    return under === 0 ? null : Number(mixed[1] ?? 0) + Number(mixed[2]) / under;
  }
  return /^(\d+([.,]\d*)?|[.,]\d+)$/.test(body) ? Number(body.replace(',', '.')) : null;
}

function plain(value: number, places: number): string {
  const text = value.toFixed(places);
  const short = places > 0 ? text.replace(/\.?0+$/, '') : text;
  return short === '-0' ? '0' : short.replace('-', '−');
}

function inches(mm: number): string {
  const all = Math.round((Math.abs(mm) / MM_PER.in) * SIXTEENTHS);
  const sign = mm < 0 && all > 0 ? '−' : '';
  const whole = Math.floor(all / SIXTEENTHS);
  let over = all % SIXTEENTHS, under = SIXTEENTHS;
  while (over > 0 && over % 2 === 0) {
    over /= 2;
    under /= 2;
  }
  if (over === 0) return `${sign}${whole}`;
  return whole === 0 ? `${sign}${over}/${under}` : `${sign}${whole} ${over}/${under}`;
}
