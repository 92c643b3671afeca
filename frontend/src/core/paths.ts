/** Drawn paths (the `d` of SVG) of the server's outlines and segments, in mm. */

import type { Segment } from '../client/types.gen';

export function ringPath(points: readonly (readonly number[])[], closed = true): string {
  if (points.length === 0) return '';
  return `M${points.map((p) => `${p[0]} ${p[1]}`).join('L')}${closed ? 'Z' : ''}`;
}

/** A run of lines (two points) and cubics (four), each beginning where the last ended. */
export function segmentsPath(segments: readonly Segment[], closed = false): string {
  let text = '';
  segments.forEach((segment, i) => {
    const p = segment.points;
    if (i === 0 && p[0]) text += `M${p[0][0]} ${p[0][1]}`;
    text += p.length === 4 ? `C${p.slice(1).map((q) => `${q[0]} ${q[1]}`).join(' ')}` : p.length > 1 ? `L${p[1]?.[0]} ${p[1]?.[1]}` : '';
  });
  return closed ? `${text}Z` : text;
}
