/** Small pictures of what a mock-up may show: a plain dress, or a sleeve, with the place marked; 48 × 60. */

export type View = 'front' | 'back' | 'sleeve';

export interface Showing {
  view: View;
  /** What stands off: closed shapes. */
  stands?: readonly string[];
  /** Folds, drag lines and arrows: open lines. */
  lines?: readonly string[];
}

/** Both halves of the dress alike: a line and its mirror about the centre. */
function both(...lines: string[]): string[] {
  return lines.flatMap((line) => [line, mirrored(line)]);
}

/** Paths here are of absolute M, L and Q with "x y" pairs: each x is laid on the other side. */
function mirrored(line: string): string {
  return line.replace(/(-?[\d.]+) (-?[\d.]+)/gu, (_, x: string, y: string) => `${48 - Number(x)} ${y}`);
}

export const OUTLINES: Readonly<Record<View, string>> = {
  front: 'M17 4Q24 17 31 4L41 8Q36 15 39 23L36 35L42 57L6 57L12 35L9 23Q12 15 7 8Z',
  back: 'M17 4Q24 8 31 4L41 8Q37 15 39 23L36 35L42 57L6 57L12 35L9 23Q11 15 7 8Z',
  sleeve: 'M9 26Q16 6 24 6Q32 6 39 26L33 56L15 56Z',
};

export const PICTURES: Readonly<Record<string, Showing>> = {
  'neck-gapes-front': { view: 'front', stands: ['M18 6Q24 17 30 6Q24 24 18 6Z'] },
  'neck-gapes-back': { view: 'back', stands: ['M18 4.5Q24 8 30 4.5Q24 15 18 4.5Z'] },
  'armhole-gapes': { view: 'front', stands: ['M40 9Q36 15 39 22Q29 16 40 9Z'] },
  'drags-to-bust': { view: 'front', lines: both('M37 20L32 24', 'M37 28L32 26', 'M35 13L31 22', 'M28 34L30 27') },
  'loose-over-bust': { view: 'front', lines: both('M29 20Q31 23 29 26Q27 29 29 32', 'M34 20Q36 23 34 26Q32 29 34 32') },
  'folds-above-back-waist': { view: 'back', lines: ['M15 29Q24 33 33 29', 'M14 33Q24 37 34 33', 'M17 25Q24 29 31 25'] },
  'tight-over-hip': { view: 'front', lines: both('M38 42L29 43', 'M39 46L30 46', 'M40 50L29 49') },
  'loose-at-waist': { view: 'front', lines: both('M33 29Q31 35 33 41', 'M29 30Q27 35 29 40') },
  'shoulder-tip-folds': { view: 'front', lines: both('M33 7Q36 13 37 20', 'M31 9Q34 15 36 23') },
  'shoulder-tip-drags': { view: 'front', lines: both('M39 10L30 14', 'M38 11L28 20') },
  'tight-across-back': { view: 'back', lines: ['M13 15L35 15', 'M12 19L36 19', 'M13 23L35 23'] },
  'front-sags': { view: 'front', lines: ['M15 28Q24 35 33 28', 'M14 34Q24 42 34 34', 'M16 23Q24 29 32 23'] },
  'front-rides-up': { view: 'front', stands: ['M8 57Q24 44 40 57Z'], lines: ['M24 44L24 36', 'M21 39L24 36L27 39'] },
  'sleeve-pulls': { view: 'sleeve', lines: ['M14 22L24 10L34 22', 'M14 27L24 16L34 27', 'M15 32L24 23L33 32'] },
  'shoulder-seam-behind': { view: 'back', lines: both('M30 8L39 12', 'M35 16L35 12', 'M33 13.5L35 11.5L37 13.5') },
  'too-short': { view: 'front', lines: ['M24 44L24 55', 'M20.5 51.5L24 55L27.5 51.5'] },
  'neck-tight': { view: 'front', lines: ['M16 9Q24 22 32 9', 'M20 13L17 19', 'M28 13L31 19', 'M24 16L24 22'] },
};

/** The picture of a showing; the plain dress where there is none of it. */
export function pictureOf(code: string): Showing {
  return PICTURES[code] ?? { view: 'front' };
}
