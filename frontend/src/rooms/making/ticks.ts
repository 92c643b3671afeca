/**
 * Ticks that stay. A tick is kept in this browser first and told to the server after; while the server does not
 * answer it waits, over a reload too, and is told when the server is there again.
 */

import type { MakingView, TaskView } from '../../client/types.gen';
import { isTrouble } from '../../core/api';
import type { Eke } from '../../core/eke';
import type { State } from '../../core/store';

/** Ticks that the server does not know yet, by step. */
export type Waiting = Readonly<Record<string, boolean>>;
const NONE: Waiting = {};

function nameOf(garment: string): string {
  return `eke.ticks.${garment}`;
}

/** The ticks of a garment that wait, as this window shows them. */
export function waitingOf(state: State, garment: string | null): Waiting {
  if (garment === null) return NONE;
  return (state.view.own['making']?.[nameOf(garment)] as Waiting | undefined) ?? NONE;
}

/** Take up what was kept by an earlier visit, and tell the server. */
export async function takeUp(eke: Eke, garment: string): Promise<void> {
  const kept = readKept(eke.keep.get(nameOf(garment)));
  if (Object.keys(kept).length === 0) return;
  hold(eke, garment, { ...kept, ...waitingOf(eke.state, garment) });
  await tell(eke, garment);
}

/** Tick a step, or take its tick away. */
export async function tick(eke: Eke, garment: string, step: string, done: boolean): Promise<void> {
  hold(eke, garment, { ...waitingOf(eke.state, garment), [step]: done });
  await tell(eke, garment);
}

const telling = new WeakSet<Eke>();

/** Tell the server all that waits, one after the other, in the order in which they were ticked. */
export async function tell(eke: Eke, garment: string): Promise<void> {
  if (telling.has(eke)) return;
  telling.add(eke);
  try {
    for (let next = firstOf(eke, garment); next; next = firstOf(eke, garment)) {
      const [step, done] = next;
      try {
        const path = `/api/garments/${encodeURIComponent(garment)}/ticks/${encodeURIComponent(step)}`;
        const making = await eke.api.put<MakingView>(path, { done });
        if (eke.state.view.garment === garment && eke.state.doc.making !== null) eke.setDoc({ making });
      } catch (trouble) {
        eke.trouble(trouble);
        if (isTrouble(trouble) && trouble.code === 'lost') return; // it waits
      }
      // Ticked the other way meanwhile: that is told next.
      const { [step]: now, ...rest } = waitingOf(eke.state, garment);
      hold(eke, garment, now === done ? rest : { ...rest, ...(now === undefined ? {} : { [step]: now }) });
    }
  } finally {
    telling.delete(eke);
  }
}

/** The steps with the ticks that wait laid over them. */
export function ticked(tasks: readonly TaskView[], waiting: Waiting): TaskView[] {
  return tasks.map((task) => ({ ...task, done: waiting[task.id] ?? task.done }));
}

/** The first step that is not done; none: all are. */
export function nextStep(tasks: readonly TaskView[]): TaskView | null {
  return tasks.find((task) => !task.done) ?? null;
}

/** Steps under their headings, in their order. A heading that comes again later stands again. */
export function byHeading(tasks: readonly TaskView[]): { heading: string; tasks: TaskView[] }[] {
  const groups: { heading: string; tasks: TaskView[] }[] = [];
  for (const task of tasks) {
    const last = groups.at(-1);
    if (last && last.heading === task.heading) last.tasks.push(task);
    else groups.push({ heading: task.heading, tasks: [task] });
  }
  return groups;
}

function firstOf(eke: Eke, garment: string): [string, boolean] | undefined {
  return Object.entries(waitingOf(eke.state, garment))[0];
}

function hold(eke: Eke, garment: string, waiting: Waiting): void {
  eke.setOwn('making', { [nameOf(garment)]: waiting });
  eke.keep.set(nameOf(garment), JSON.stringify(waiting));
}

function readKept(text: string | null): Waiting {
  if (text === null) return NONE;
  try {
    const kept: unknown = JSON.parse(text);
    if (typeof kept !== 'object' || kept === null) return NONE;
    return Object.fromEntries(Object.entries(kept).filter((pair): pair is [string, boolean] => typeof pair[1] === 'boolean'));
  } catch {
    return NONE; // not ours
  }
}
