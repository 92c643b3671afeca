/** What the server sends by itself, typed by hand beside the generated client. */

import type { JobView, PhoneView, RevisionEvent } from '../client/types.gen';

export interface ServerEvents {
  hello: { version: string; started: string };
  revision: RevisionEvent;
  job: JobView;
  phone: PhoneView;
}
export type EventName = keyof ServerEvents;
export const EVENT_NAMES: readonly EventName[] = ['hello', 'revision', 'job', 'phone'];

export interface Listening {
  event<K extends EventName>(name: K, data: ServerEvents[K]): void;
  up(): void;
  lost(): void;
}

/** The way to listen; the browser's is `browserEvents`, tests give their own. Returns how to stop. */
export type Listen = (listening: Listening) => () => void;

/** Seconds between two tries to reach a server that does not answer. */
const RETRY_S = 2;

/** Listen by the browser's EventSource, trying again until it answers. */
export function browserEvents(open: (address: string) => EventSource): Listen {
  return (listening) => {
    let source: EventSource | null = null;
    let timer: ReturnType<typeof setTimeout> | undefined;
    let ended = false;
    const connect = () => {
      source = open('/api/events');
      source.onopen = () => listening.up();
      for (const name of EVENT_NAMES) {
        source.addEventListener(name, (event) => listening.event(name, JSON.parse((event as MessageEvent<string>).data)));
      }
      source.onerror = () => {
        listening.lost();
        source?.close();
        if (!ended) timer = setTimeout(connect, RETRY_S * 1000);
      };
    };
    connect();
    return () => {
      ended = true;
      clearTimeout(timer);
      source?.close();
    };
  };
}
