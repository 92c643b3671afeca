/** Amounts of money as they are typed and shared. Sums that count are the server's; these are shown before. */

/** Currencies offered by name; any other three letters can be typed. */
export const CURRENCIES = ['EUR', 'GBP', 'USD', 'CHF', 'SEK', 'NOK', 'DKK', 'PLN', 'CZK', 'CAD', 'AUD', 'NZD', 'JPY'] as const;

/** No sewing costs more, in any currency; a longer number is a slip of the hand. */
const MOST = 1e9;

/** A typed amount as the server reads it ("2,40" → "2.40"); none when it is no amount. */
export function typedAmount(text: string): string | null {
  const plain = text.trim().replace(',', '.');
  return /^\d+(\.\d*)?$|^\.\d+$/.test(plain) && Number(plain) > 0 && Number(plain) <= MOST ? plain : null;
}

/** The number in a sum such as "7.40 EUR"; none when there is none. */
export function sumOf(money: string | null): number | null {
  const found = /-?\d+(?:\.\d+)?/.exec((money ?? '').replace('−', '-'));
  return found ? Number(found[0]) : null;
}

/** Decimals that a currency has. */
export function decimalsOf(currency: string): number {
  try {
    return new Intl.NumberFormat('en-GB', { style: 'currency', currency }).resolvedOptions().maximumFractionDigits ?? 2;
  } catch {
    return 2; // no currency (yet): it is still being typed
  }
}

export function written(amount: number, currency: string): string {
  return `${amount.toFixed(decimalsOf(currency))} ${currency}`;
}

/** A share of something: who takes part, and how many shares (typed). */
export interface Part {
  id: string;
  name: string;
  shares: string;
}

/**
 * What each part comes to: whole cents that add up to the amount. What is over after rounding down goes to the
 * parts that lost most by it.
 */
export function portions(amount: number, currency: string, parts: readonly Part[]): number[] {
  const weights = parts.map((part) => Number(typedAmount(part.shares) ?? 0));
  const all = weights.reduce((a, b) => a + b, 0);
  if (all <= 0) return parts.map(() => 0);
  const unit = 10 ** decimalsOf(currency);
  const cents = Math.round(amount * unit);
  const exact = weights.map((weight) => (cents * weight) / all);
  const whole = exact.map(Math.floor);
  const over = cents - whole.reduce((a, b) => a + b, 0);
  const order = exact.map((value, i) => [value - Math.floor(value), i] as const).sort((a, b) => b[0] - a[0] || a[1] - b[1]);
  for (const [, i] of order.slice(0, over)) whole[i] = (whole[i] ?? 0) + 1;
  return whole.map((value) => value / unit);
}

/** What the server is told: weights by id. */
export function weightsOf(parts: readonly Part[]): Record<string, string> {
  return Object.fromEntries(parts.map((part) => [part.id, typedAmount(part.shares) ?? '1']));
}

/** Today as a date of this place, for a field. */
export function today(now = new Date()): string {
  const two = (n: number) => String(n).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

/** A date such as 2026-05-03 in words; what is no date stays as it is. */
export function dateWords(on: string): string {
  const found = /^(\d{4})-(\d{2})-(\d{2})$/.exec(on);
  if (!found) return on;
  const date = new Date(Number(found[1]), Number(found[2]) - 1, Number(found[3]));
  return date.toLocaleDateString('en-GB', { day: 'numeric', month: 'long', year: 'numeric' });
}
