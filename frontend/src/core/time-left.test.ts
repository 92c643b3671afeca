import { expect, it } from 'vitest';
import { timeLeft } from './time-left';

it('counts down in minutes and seconds, and ends', () => {
  const now = Date.parse('2026-05-01T10:00:00Z');
  expect(timeLeft('2026-05-01T10:10:00+00:00', now)).toBe('10:00');
  expect(timeLeft('2026-05-01T10:00:09.5Z', now)).toBe('0:10');
  expect(timeLeft('2026-05-01T10:00:00Z', now)).toBeNull();
  expect(timeLeft(null, now)).toBeNull();
  expect(timeLeft('soon', now)).toBeNull();
});
