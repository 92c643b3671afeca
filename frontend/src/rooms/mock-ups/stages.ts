/** Two stages of the garment compared: which two, and how they are called. */

import type { GarmentView, PieceBetweenView, PieceView, StageView, StepBetweenView } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';
import { t } from '../../core/language';
import type { State } from '../../core/store';
import { told } from '../../core/told';
import type { Unit } from '../../core/units';
import { isFit } from './actions';

/** Null where the usual one is meant: the newest mock-up, and now. */
export interface Comparing {
  garment: string;
  earlier: string | null;
  later: string | null;
}

/** Which two stages are compared; null: none are. */
export function comparingOf(state: State): Comparing | null {
  const found = state.view.own['mock-ups']?.['comparing'] as Comparing | null | undefined;
  return found && found.garment === state.view.garment ? found : null;
}

/** Where two stages are asked for. */
export function addressOf({ garment, earlier, later }: Comparing): string {
  const asked = new URLSearchParams();
  if (earlier !== null) asked.set('earlier', earlier);
  if (later !== null) asked.set('later', later);
  const said = asked.toString();
  return `/api/garments/${garment}/compare${said ? `?${said}` : ''}`;
}

/** What a stage is called in a list. */
export function stageWords(stage: StageView, unit: Unit): string {
  if (stage.mock_ups.length > 0) return t(stage.now ? 'stages.cut.now' : 'stages.cut', { n: stage.mock_ups.length, names: stage.mock_ups.join(', ') });
  if (stage.now) return t('stages.now');
  const step = told(stage.sentence, unit);
  return stage.undone ? t('stages.undone', { step }) : step;
}

/** Stages that have a name of their own come first, the newest of the others after them. */
export function grouped(stages: readonly StageView[]): { named: readonly StageView[]; steps: readonly StageView[] } {
  const isNamed = (one: StageView) => one.now || one.mock_ups.length > 0;
  return { named: stages.filter(isNamed).reverse(), steps: stages.filter((one) => !isNamed(one)).reverse() };
}

/** A garment that holds the pieces of both stages, to be arranged on the table. */
export function togetherOf(garment: GarmentView, pieces: readonly PieceBetweenView[]): GarmentView {
  const drawn = (derived: boolean) => pieces.flatMap((one): PieceView[] => {
    const piece = one.after ?? one.before;
    return piece && one.derived === derived ? [piece] : [];
  });
  const own = drawn(false);
  const edges = new Set(own.flatMap((piece) => piece.edges.map((edge) => edge.id)));
  const seams = garment.seams.filter((seam) => [...seam.a, ...seam.b].every((part) => edges.has(part.edge)));
  return { ...garment, pieces: own, derived: drawn(true), seams };
}

/** What became of a step, in words; nothing for one that was simply made. */
export function fateWords(step: StepBetweenView): string {
  const why = step.why ?? '';
  switch (step.fate) {
    case 'made': return '';
    case 'made off': return t('stages.fate.made-off');
    case 'made aside': return t('stages.fate.made-aside', { why });
    case 'off': return t('stages.fate.off');
    case 'on': return t('stages.fate.on');
    case 'altered': return t('stages.fate.altered');
    case 'aside': return t('stages.fate.aside', { why });
    case 'found': return t('stages.fate.found');
    case 'gone': return t('stages.fate.gone');
  }
}

/** Steps about the fit first; tracing, trueing and naming apart. */
export function partedSteps(steps: readonly StepBetweenView[]): { fit: readonly StepBetweenView[]; other: readonly StepBetweenView[] } {
  const about = (step: StepBetweenView) => isFit(step) || step.kind.startsWith('recipe.');
  return { fit: steps.filter(about), other: steps.filter((step) => !about(step)) };
}

const HERE = ['mock-ups'] as const;

export const commands: readonly Command[] = [
  {
    id: 'stages.compare', words: 'stages.compare', keys: ['shift+c'], rooms: HERE,
    available: (s) => (s.doc.history?.lines.length ?? 0) > 0 && s.view.garment !== null && comparingOf(s) === null,
    run: (eke, said) => {
      const { earlier = null, later = null } = (said ?? {}) as Partial<Comparing>;
      eke.select({});
      eke.setOwn('mock-ups', { comparing: { garment: eke.state.view.garment, earlier, later }, plan: null, step: null });
    },
  },
  { id: 'stages.leave', words: 'stages.leave', keys: ['x'], rooms: HERE, available: (s) => comparingOf(s) !== null, run: (eke) => eke.setOwn('mock-ups', { comparing: null }) },
];
