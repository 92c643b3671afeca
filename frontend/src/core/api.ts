/** Asking the server: one thin wrapper; everything that goes wrong becomes a `Trouble` with a sentence. */

import type { Problem } from '../client/types.gen';
import { t } from './language';

/** What the wrapper needs of `fetch`. */
export type Fetch = (address: string, how?: RequestInit) => Promise<Response>;

export class Trouble extends Error {
  constructor(
    /** `bad-input`, `not-found`, `conflict`, `changed-elsewhere`, `too-big`, `cannot-promise` …; `lost`: no answer. */
    readonly code: string,
    /** For the maker: what happened, what was kept, what to do. */
    readonly sentence: string,
    readonly facts: Record<string, unknown> = {},
    readonly status = 0,
  ) {
    super(sentence);
    this.name = 'Trouble';
  }
}

export function isTrouble(what: unknown): what is Trouble {
  return what instanceof Trouble;
}

export interface Ask {
  signal?: AbortSignal;
  /** Added to the address; lists become repeated names, undefined is left out. */
  query?: Record<string, string | number | boolean | readonly string[] | undefined>;
}

export class Api {
  constructor(private readonly fetch: Fetch) {}

  get<T>(path: string, ask: Ask = {}): Promise<T> {
    return this.ask<T>('GET', path, undefined, ask);
  }

  post<T>(path: string, said: unknown = {}, ask: Ask = {}): Promise<T> {
    return this.ask<T>('POST', path, said, ask);
  }

  put<T>(path: string, said: unknown, ask: Ask = {}): Promise<T> {
    return this.ask<T>('PUT', path, said, ask);
  }

  patch<T>(path: string, said: unknown, ask: Ask = {}): Promise<T> {
    return this.ask<T>('PATCH', path, said, ask);
  }

  del<T>(path: string, ask: Ask = {}): Promise<T> {
    return this.ask<T>('DELETE', path, undefined, ask);
  }

  /** Send a file, with further fields beside it. */
  upload<T>(path: string, file: Blob, name: string, fields: Record<string, string> = {}, ask: Ask = {}): Promise<T> {
    const form = new FormData();
    form.append('file', file, name);
    for (const [key, value] of Object.entries(fields)) form.append(key, value);
    return this.ask<T>('POST', path, form, ask);
  }

  private async ask<T>(method: string, path: string, said: unknown, ask: Ask): Promise<T> {
    const headers: Record<string, string> = { Accept: 'application/json' };
    if (method !== 'GET') headers['X-Eke'] = '1';
    let body: BodyInit | undefined;
    if (said instanceof FormData) body = said;
    else if (said !== undefined) {
      headers['Content-Type'] = 'application/json';
      body = JSON.stringify(said);
    }
    let answer: Response;
    try {
      answer = await this.fetch(address(path, ask.query), { method, headers, body, signal: ask.signal, credentials: 'same-origin' });
    } catch (cause) {
      if (ask.signal?.aborted) throw cause;
      throw new Trouble('lost', t('trouble.lost'));
    }
    if (answer.status === 204) return undefined as T;
    const told: unknown = await answer.json().catch(() => null);
    if (answer.ok) return told as T;
    const problem = told as Partial<Problem> | null;
    throw new Trouble(
      problem?.code ?? 'unknown',
      problem?.sentence ?? t(answer.status === 401 || answer.status === 403 ? 'trouble.no-key' : 'trouble.unknown'),
      problem?.facts ?? {},
      answer.status,
    );
  }
}

/** The whole address of a path and what is asked with it. */
export function address(path: string, query: Ask['query'] = {}): string {
  const parts: string[] = [];
  for (const [name, value] of Object.entries(query)) {
    for (const one of Array.isArray(value) ? value : [value]) {
      if (one !== undefined) parts.push(`${name}=${encodeURIComponent(String(one))}`);
    }
  }
  return parts.length === 0 ? path : `${path}?${parts.join('&')}`;
}

/** Where a photograph is, by its hash, at most so many px long. */
export function photoAddress(sha: string, longest_px = 1600): string {
  return `/api/photos/${encodeURIComponent(sha)}?longest_px=${longest_px}`;
}
