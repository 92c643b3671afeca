/** How long until a moment, as "9:41"; none when there is no moment or it is over. */
export function timeLeft(until: string | null, now_ms: number): string | null {
  const left_s = until === null ? NaN : Math.ceil((Date.parse(until) - now_ms) / 1000);
  if (!(left_s > 0)) return null;
  return `${Math.floor(left_s / 60)}:${String(left_s % 60).padStart(2, '0')}`;
}
