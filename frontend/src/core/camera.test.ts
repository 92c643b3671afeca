import { describe, expect, it } from 'vitest';
import { fit, pan, toScreen, toTable, zoomAt } from './camera';

const SIZE = { width: 800, height: 600 };

describe('camera', () => {
  const camera = { x: 120, y: -40, scale: 1.7 };

  it('goes to the screen and back, y up', () => {
    const px = toScreen(camera, SIZE, [200, 30]);
    const [x, y] = toTable(camera, SIZE, px);
    expect(x).toBeCloseTo(200);
    expect(y).toBeCloseTo(30);
    expect(toScreen(camera, SIZE, [200, 31])[1]).toBeLessThan(px[1]);
  });

  it('keeps what is under the pointer when zooming', () => {
    const before = toTable(camera, SIZE, [77, 333]);
    const after = toTable(zoomAt(camera, SIZE, [77, 333], 2.3), SIZE, [77, 333]);
    expect(after[0]).toBeCloseTo(before[0]);
    expect(after[1]).toBeCloseTo(before[1]);
  });

  it('moves what is seen with the hand', () => {
    const was = toScreen(camera, SIZE, [0, 0]);
    const is = toScreen(pan(camera, 10, -4), SIZE, [0, 0]);
    expect(is[0] - was[0]).toBeCloseTo(10);
    expect(is[1] - was[1]).toBeCloseTo(-4);
  });

  it('fits a box with its margin', () => {
    const box = { left: -50, bottom: 100, width: 400, height: 900 };
    const seen = fit(box, SIZE, 32);
    const [left, bottom] = toScreen(seen, SIZE, [box.left, box.bottom]);
    const [right, top] = toScreen(seen, SIZE, [box.left + box.width, box.bottom + box.height]);
    expect(left).toBeGreaterThanOrEqual(31.9);
    expect(right).toBeLessThanOrEqual(SIZE.width - 31.9);
    expect(top).toBeCloseTo(32);
    expect(bottom).toBeCloseTo(SIZE.height - 32);
  });
});
