/** The hand that holds a tool: gives it events, keeps its state, carries out its effects. */

import { runCommand } from '../commands/command';
import type { Eke } from '../eke';
import type { Tables } from '../tables';
import type { Tool, ToolContext, ToolEvent } from './machine';

/** How far from a thing a press still means it, in px. */
export const MOUSE_PX = 8;
export const TOUCH_PX = 20;

export class ToolHand {
  private tool: Tool | null = null;
  private own: unknown = null;

  constructor(
    private readonly eke: Eke,
    private readonly tables: Tables,
    private readonly capture: (on: boolean) => void = () => undefined,
  ) {}

  /** The tool in hand: the one that was taken, or the room's resting one. */
  get held(): Tool | null {
    const { place, tool } = this.eke.state.view;
    const here = this.tables.tools.filter((one) => one.room === place);
    const wanted = here.find((one) => one.id === tool) ?? here.find((one) => one.resting) ?? null;
    if (wanted !== this.tool) {
      if (this.tool) this.give({ kind: 'cancel' }, this.eke.state.view.cameras[place]?.scale ?? 1);
      this.tool = wanted;
      this.own = wanted?.initial ?? null;
    }
    return this.tool;
  }

  get state(): unknown {
    return this.own;
  }

  get cursor(): string {
    const tool = this.held;
    if (!tool) return 'default';
    return typeof tool.cursor === 'string' ? tool.cursor : tool.cursor(this.own);
  }

  /** Give an event to the tool in hand; returns whether it used a key. */
  send(event: ToolEvent, scale: number): boolean {
    return this.held === null ? false : this.give(event, scale);
  }

  private give(event: ToolEvent, scale: number): boolean {
    const tool = this.tool;
    if (!tool) return false;
    const touch = 'touch' in event && event.touch;
    const context: ToolContext = {
      state: this.eke.state,
      mm_per_px: 1 / scale,
      tolerance_mm: (touch ? TOUCH_PX : MOUSE_PX) / scale,
    };
    const { state, effects = [], taken = false } = tool.step(this.own, event, context);
    this.own = state;
    for (const effect of effects) {
      switch (effect.do) {
        case 'draft': this.eke.setDraft(effect.draft); break;
        case 'change': void this.eke.change(effect.kind, effect.params, effect.note); break;
        case 'change-workroom': void this.eke.changeWorkroom(effect.kind, effect.params, effect.note); break;
        case 'command': runCommand(this.eke, this.tables, effect.id, effect.with); break;
        case 'select': this.eke.select(effect.selection); break;
        case 'say': this.eke.say(effect.sentence); break;
        case 'capture': this.capture(effect.on); break;
        case 'tool': this.eke.take(effect.id); break;
      }
    }
    return taken;
  }
}
