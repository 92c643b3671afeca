/** How much harm a stint does, in four steps that can be told apart at a glance. */

/** The last rank of each step: unseen; hardly seen; seen; another garment. */
const LAST_OF_STEP = [2, 5, 8] as const;

export function harmStep(harm: number): 1 | 2 | 3 | 4 {
  const step = LAST_OF_STEP.findIndex((last) => harm <= last);
  return (step < 0 ? 4 : step + 1) as 1 | 2 | 3 | 4;
}
